"""What `new` asks, and what it assumes where nobody knows."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.files.spec import Field, Fields, Quantity, Row, Spec, Word

_SIZE = Quantity("length", "positive")
_DISTANCE = Quantity("length", "not negative")


@dataclass(frozen=True, slots=True)
class Question:
    """key: in an answers file; asks: for a person; spec: what an answer is; assumed: where it is unknown, as
    it would be written, or "" where the project itself says `unknown`."""

    key: str
    asks: str
    spec: Spec
    assumed: str


QUESTIONS = (
    Question("pin_diameter", "Diameter of the pin?", _SIZE, "8 mm"),
    Question("pin_length", "Length of the pin?", _SIZE, "40 mm"),
    Question("pin_fit", "ISO 286 class of the pin?", Word("a class such as g6"), "g6"),
    Question("bore_fit", "ISO 286 class of the bore?", Word("a class such as H7"), "H7"),
    Question("depth", "How deep does the pin go in?", _SIZE, "20 mm"),
    Question(
        "block_size", "Length, width and height of the block?", Row((_SIZE,) * 3), "[100 mm, 50 mm, 30 mm]"
    ),
    Question("chamfer", "Radial width of the bore's chamfer (0 mm: none)?", _DISTANCE, "0.5 mm"),
    Question("arm_reach", "Reach of the arms, axis 2 to the middle of the wrist?", _SIZE, "800 mm"),
    Question("arm_repeatability", "Repeatability of the arms (ISO 9283 RP)?", _SIZE, "0.03 mm"),
    Question("jaw_opening", "Widest opening of the jaws?", _SIZE, "70 mm"),
    Question("nest_error", "How far off may the nest stand on the table (one sigma)?", _DISTANCE, ""),
    Question("pocket_error", "How far off may the pin lie in its pocket (one sigma)?", _DISTANCE, ""),
)
ANSWERS = Fields(
    "answers",
    tuple(Field(q.key, q.spec, help=q.asks) for q in QUESTIONS),
    lambda _name, values: values,
)
