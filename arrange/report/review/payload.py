"""How the page carries its contents: JSON that no text of a score can break out of, deflated."""

import base64
import json
import zlib
from typing import Any

_LEVEL = 6


def packed(text: str) -> str:
    """Text deflated (without a header) and in base64, as the page inflates it again."""
    squeezer = zlib.compressobj(_LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS)
    raw = squeezer.compress(text.encode()) + squeezer.flush()
    return base64.b64encode(raw).decode()


def packed_json(content: Any) -> str:
    """JSON content, packed."""
    return packed(_compact(content))


def script_json(content: Any) -> str:
    """JSON that may stand within a script element: no sign in it can close that element."""
    text = _compact(content)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _compact(content: Any) -> str:
    return json.dumps(content, ensure_ascii=False, separators=(",", ":"))
