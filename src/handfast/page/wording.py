"""Elements, places and times in a person's words: the same on the terminal and on the page."""

from __future__ import annotations

from handfast.model.element import Element

# kind -> the word between object and target
_LINK = {
    "search": "at",
    "reach": "at",
    "grasp": "",
    "move": "to",
    "position": "at",
    "assemble": "into",
    "use": "on",
    "hold": "",
    "release": "in",
    "locate": "on",
    "inspect": "at",
    "delay": "",
}


def place_words(target: str) -> str:
    """A place as people name it: "hand.right" -> "right hand", "place.tray.pin" -> "tray.pin"."""
    if target.startswith("hand."):
        return f"{target[5:]} hand"
    return target.removeprefix("place.").removeprefix("part.").removeprefix("tool.")


def phrase(element: Element) -> str:
    """What is done to what, and where: "move pin to right hand", "delay: waits for the left hand"."""
    if element.kind in ("hold", "delay"):
        subject = f"{element.kind} {element.object}".strip()
        return f"{subject}: {element.cause}" if element.cause else subject
    if element.target in ("home", "clear"):
        return " ".join(w for w in (element.kind, element.object, element.target) if w)
    words = [element.kind, element.object]
    target = place_words(element.target)
    if element.kind == "grasp" and element.target.startswith("hand."):
        return f"grasp {element.object} from {target}"
    if target and target != element.object and _LINK[element.kind]:
        words += [_LINK[element.kind], target]
    return " ".join(w for w in words if w)


def seconds(value: float) -> str:
    """A duration as charts print it: two decimals below 100 s, one above."""
    return f"{value:.2f}" if value < 99.995 else f"{value:.1f}"


def short_hash(sha256: str) -> str:
    """The first 12 digits, as screens name a record."""
    return sha256[:12]
