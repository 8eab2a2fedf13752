"""The words of a cell over a wire: JSON lines, one request, one answer (docs/cell-protocol.md).

Request {"id": 7, "do": "grip", "with": {"arm": "left", "width": 0.008, "force": 90.0}}; answer {"id": 7,
"result": 0.00799} or {"id": 7, "error": "...", "kind": "cell"}. The server speaks first, with a greeting.
"""

from __future__ import annotations

import inspect
import json
from dataclasses import dataclass
from typing import Any, get_type_hints

from handfast.execution.cell import Cell, CellError
from handfast.execution.two_hands import Ended
from handfast.files.errors import RecordError
from handfast.files.typed_json import from_json, to_json
from handfast.spatial.pose import Pose

PROTOCOL = "handfast-cell"
VERSION = 1
_UNIT = 1e-6
LONGEST = 4_000_000  # bytes of a line; a motion of a thousand knots takes 0.3 MB


@dataclass(frozen=True, slots=True)
class Call:
    """One method of the protocol: the types of its arguments by name, and of what it answers."""

    arguments: dict[str, Any]
    result: Any


def _calls() -> dict[str, Call]:
    out = {}
    for name, method in inspect.getmembers(Cell, inspect.isfunction):
        if not name.startswith("_"):
            hints = get_type_hints(method)
            result = hints.pop("return")
            out[name] = Call(hints, result)
    return out


CALLS = _calls()
"""Every method of `Cell`, by name."""
CALLS |= {
    "wait": Call({"seconds": float}, tuple[dict[str, Any], ...]),
    "jaws": Call({"arm": str, "width": float}, type(None)),
    "halt": Call({}, type(None)),
}
"""And those of `TwoHandCell`, but for `begin`, which stands beside the call that is begun."""


def line(message: dict[str, Any]) -> bytes:
    """The bytes of one message. Raises ValueError for a value that JSON does not have."""
    return json.dumps(message, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode() + b"\n"


def read(raw: bytes) -> dict[str, Any]:
    """One message. Raises CellError for what is none."""
    try:
        found = json.loads(raw, parse_constant=_refused)
    except (ValueError, RecursionError) as error:
        raise CellError(f"expected a JSON object on one line, found {raw[:60]!r}") from error
    if not isinstance(found, dict):
        raise CellError(f"expected a JSON object on one line, found {raw[:60]!r}")
    return found


def packed(name: str, values: dict[str, Any]) -> dict[str, Any]:
    """Arguments as plain JSON values; those left out have their defaults."""
    types = CALLS[name].arguments
    return {key: to_json(value, types[key], f"{name}.{key}") for key, value in values.items()}


def unpacked(name: str, values: Any) -> dict[str, Any]:
    """Arguments from plain JSON values. Raises CellError for those that do not fit."""
    call = CALLS.get(name)
    if call is None or not isinstance(values, dict):
        raise CellError(f"expected one of {', '.join(CALLS)} with its arguments, found {name!r}")
    unknown = sorted(set(values) - set(call.arguments))
    if unknown:
        raise CellError(f"{name}: expected {', '.join(call.arguments)}, found {', '.join(unknown)}")
    try:
        return {key: from_json(value, call.arguments[key], f"{name}.{key}") for key, value in values.items()}
    except RecordError as error:
        raise CellError(f"{name}: {error}") from error


def result_of(name: str, value: Any) -> Any:
    """What a call has answered, from its plain JSON value. Raises CellError for what it cannot answer."""
    kind = CALLS[name].result
    if kind is type(None) or kind is None:
        if value is not None:
            raise CellError(f"{name}: expected null, found {str(value)[:60]}")
        return None
    try:
        found = from_json(value, kind, name)
        to_json(found, kind, name)  # JSON has numbers that are too large for a float
    except RecordError as error:
        raise CellError(str(error)) from error
    if isinstance(found, Pose) and abs(sum(v * v for v in found.quaternion) - 1) > _UNIT:
        raise CellError(f"{name}: expected a unit quaternion, found {found.quaternion}")
    return found


def told(ended: tuple[Ended, ...], begun: dict[str, str]) -> list[dict[str, Any]]:
    """What is over, as plain JSON values. begun: the call of each arm; those that are over are taken out."""
    out: list[dict[str, Any]] = []
    for one in ended:
        name = begun.pop(one.arm)
        if one.error:
            out.append({"arm": one.arm, "error": one.error, "kind": one.kind or "cell"})
            continue
        result = None if one.result is None else to_json(one.result, CALLS[name].result, name)
        out.append({"arm": one.arm, "result": result})
    return out


def ended_of(values: Any, begun: dict[str, str]) -> tuple[Ended, ...]:
    """The same from plain JSON values. Raises CellError for what no cell can tell."""
    if not isinstance(values, list):
        raise CellError(f"wait: expected a list of what is over, found {str(values)[:60]}")
    out = []
    for one in values:
        arm = one.get("arm") if isinstance(one, dict) else None
        if arm not in begun:
            raise CellError(f"wait: expected what was begun ({', '.join(begun) or 'nothing'}), found {arm!r}")
        name = begun.pop(str(arm))
        if "error" in one:
            out.append(Ended(str(arm), error=str(one["error"])[:500], kind=str(one.get("kind", "cell"))))
        else:
            out.append(Ended(str(arm), result_of(name, one.get("result"))))
    return tuple(out)


def _refused(constant: str) -> None:
    raise ValueError(f"the value {constant}")
