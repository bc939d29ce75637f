"""The title of a score."""

from arrange.score.nodes import Node


def title(root: Node) -> str:
    """The work's title, else the movement's, else the title among the credits, else ""."""
    work = root.find("work")
    found = work.child_text("work-title") if work is not None else ""
    found = found or root.child_text("movement-title") or _credited(root)
    return " ".join(found.split())


def _credited(root: Node) -> str:
    for credit in root.find_all("credit"):
        if credit.child_text("credit-type") == "title":
            return " ".join(node.text for node in credit.find_all("credit-words"))
    return ""
