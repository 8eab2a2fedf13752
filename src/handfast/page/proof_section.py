"""What the independent verifier found."""

from __future__ import annotations

from html import escape

from handfast.model.proof import Proof
from handfast.page.html_table import table
from handfast.page.wording import seconds


def proof_section(proof: Proof) -> str:
    """A <section>: what is wrong, the closest pair, and who was allowed to touch whom, and why."""
    closest = (
        f"Closest pair that may not touch: {proof.closest[0]} and {proof.closest[1]}, "
        f"{1e3 * proof.smallest_clearance:.2f} mm, in element {proof.closest_element}. "
        f"{proof.configurations} configurations checked, distances against motion bounds in between."
    )
    return (
        f'<section id="proof"><h2>Proof of the motions</h2>{_violations(proof)}<p>{escape(closest)}</p>'
        f"{_assumed(proof)}{_contacts(proof)}</section>"
    )


def _violations(proof: Proof) -> str:
    if proof.holds:
        return "<p>Nothing wrong was found in any motion.</p>"
    rows = [
        [f"element {v.element}", v.kind, seconds(v.time_s) + " s", v.a, v.b, v.text] for v in proof.violations
    ]
    return '<p class="doubt">The chart does not hold.</p>' + table(
        "violations", ["where", "what", "when", "body", "other", "found"], rows
    )


def _assumed(proof: Proof) -> str:
    return "".join(f"<p>Assumed: {escape(text)}.</p>" for text in proof.assumptions)


def _contacts(proof: Proof) -> str:
    rows = [[f"{c.a} and {c.b}", c.reason, f"{seconds(c.duration_s)} s"] for c in proof.contacts]
    return table("contacts", ["allowed to touch", "because of", "for"], rows) if rows else ""
