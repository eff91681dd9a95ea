"""How is a picture written down so that no name can break it?

A thin layer over text: elements with escaped attributes and escaped text, numbers without needless
digits. Knows nothing of circuits.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

# What XML 1.0 forbids even when escaped; a name from a file may hold it.
_FORBIDDEN = {code: None for code in range(32) if code not in (9, 10, 13)} | {
    0xFFFE: None,
    0xFFFF: None,
}

Value = str | float | int


def clean(text: str) -> str:
    """Return the text without characters that no XML may hold.

    >>> clean("valve" + chr(0) + "-block")
    'valve-block'
    """
    return "".join(char for char in text.translate(_FORBIDDEN) if not 0xD800 <= ord(char) <= 0xDFFF)


def number(value: float) -> str:
    """Return a coordinate with two decimals at most.

    >>> number(3.0), number(2.456), number(-0.001)
    ('3', '2.46', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def tag(name: str, content: Iterable[str] | None = None, /, **attributes: Value | None) -> str:
    """Return an element; ``content`` is finished markup, attributes of None are left out.

    An underscore in an attribute's name stands for a hyphen; one at the end is dropped.

    >>> tag("text", [escaped("5 < 7")], font_size=12.0, class_="a")
    '<text font-size="12" class="a">5 &lt; 7</text>'
    """
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}="
        + quoteattr(clean(value) if isinstance(value, str) else number(value))
        for key, value in attributes.items()
        if value is not None
    )
    if content is None:
        return f"<{name}{written}/>"
    return f"<{name}{written}>{''.join(content)}</{name}>"


def escaped(text: str) -> str:
    """Return text as it may stand between tags."""
    return escape(clean(text))


def titled(markup: Iterable[str], title: str) -> str:
    """Return a group that tells its name when it is pointed at or read aloud."""
    return tag("g", [tag("title", [escaped(title)]), *markup])


def points(path: Iterable[tuple[float, float]]) -> str:
    """Return corner points as an attribute wants them."""
    return " ".join(f"{number(x)},{number(y)}" for x, y in path)
