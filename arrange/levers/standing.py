"""The cheapest plan of a group of which no lever can be moved: it stands as it starts."""

from arrange.levers.groups import FAR, Answer, Group, GroupChoice

_Way = tuple[int, int]
"""What a way to treat a note costs, and its place among them."""


def standing(group: Group) -> Answer | None:
    """Return the cheapest plan without any move, None where there is none."""
    settings = [setting for setting, _ in group.starts]
    rows: dict[int, list[_Way]] = {}
    total = [cost for _, cost in group.starts]
    for note in group.notes:
        row = rows.get(id(note.choices))
        if row is None:
            row = [cheapest_way(note.choices, setting) for setting in settings]
            rows[id(note.choices)] = row
        total = [cost + way[0] for cost, way in zip(total, row, strict=True)]
    if not total or min(total) >= FAR:
        return None
    start = min(range(len(total)), key=lambda one: (total[one], settings[one]))
    picks = tuple(rows[id(note.choices)][start][1] for note in group.notes)
    return Answer(total[start], total[start], settings[start], picks, ())


def cheapest_way(choices: tuple[GroupChoice, ...], setting: int) -> _Way:
    """What the cheapest way costs that a setting allows, and its place; ``FAR`` where none is."""
    allowed = [
        (choice.cost, place)
        for place, choice in enumerate(choices)
        if setting & choice.mask == choice.value
    ]
    return min(allowed, default=(FAR, 0))
