"""product.yaml of a project that is begun from a drawing."""

from __future__ import annotations

from handfast.files.starter.written import mm, row
from handfast.mates.from_cad.guess import Guessed, GuessedMate, GuessedPart
from handfast.model.tightening import Stage, Tightening
from handfast.workflow.from_cad.feature_text import SURE, feature_lines


def product_text(guessed: Guessed, source: str, left_out: dict[str, dict[str, str]] | None = None) -> str:
    """source: the CAD file's name; left_out: by part and feature, why it is not written."""
    lines = [
        f"# Read from {source}. Guesses carry how sure they are and why; a line with `# ?` is a question, "
        "and the",
        "# answer goes into the line below it. What is certain has no remark.",
        *(f"# Note: {note}" for note in guessed.notes),
        f"base: {guessed.base}",
        "order: free",
        "",
        "parts:",
    ]
    for part in guessed.parts:
        lines += part_lines(part, (left_out or {}).get(part.name, {}))
    lines += ["mates:"] if guessed.mates else ["# ? No mate was found: write them.", "mates: {}"]
    for mate in guessed.mates:
        lines += mate_lines(mate)
    if guessed.tightenings:
        lines += ["tightenings:"]
        for pattern in guessed.tightenings:
            lines += _tightening(pattern)
    if guessed.groups:
        lines += [
            "",
            "# ? Drawn as sub-assemblies: are they built apart, and carried as one? Leave out what is not.",
        ]
        lines += ["subassemblies:"]
        lines += [f"  {g.name}: {{base: {g.base}, mates: [{', '.join(g.mates)}]}}" for g in guessed.groups]
    return "\n".join(lines).rstrip() + "\n"


def part_lines(part: GuessedPart, left_out: dict[str, str]) -> list[str]:
    """One part with its features; what no mate uses comes after what mates use."""
    x, y, z = part.placed.graph.centre
    head = f"  {part.name}:"
    lines = [
        f"{head:<24}# {part.why}",
        f"    solids: [{{mesh: meshes/{mesh_name(part)}.stl, unit: mm}}]",
        *([f"    # ? {part.question}"] if part.question else []),
        f"    mass: {1e3 * part.mass:.4g} g",
        f"    centre_of_mass: {row(round(x, 7), round(y, 7), round(z, 7))}",
        *([f"    friction: {part.friction:g}"] if part.friction != 0.15 else []),
    ]
    used = [f for f in part.features if f.used]
    others = [f for f in part.features if not f.used and f.feature.name not in left_out]
    if used or others:
        lines.append("    features:")
    for f in used:
        lines += feature_lines(f, "      ")
    if others:
        lines.append("      # Found, and named by no mate:")
    for f in others:
        lines += feature_lines(f, "      ")
    lines += [f"      # left out: {name}: {why}" for name, why in left_out.items()]
    return [*lines, ""]


def mesh_name(part: GuessedPart) -> str:
    """Of the mesh that all uses of one drawing share: its name, or its number where that says nothing."""
    return part.placed.mesh or f"drawing_{part.placed.drawing + 1}"


def mate_lines(guess: GuessedMate) -> list[str]:
    """One mate, its questions above the keys that answer them."""
    m = guess.mate
    asked = dict[str, list[str]]()
    for key, words in guess.questions:
        asked.setdefault(key, []).append(f"    # ? {words}")
    lines = [f"  {m.name}:"]
    if guess.sure < SURE:
        lines.append(f"    # sure {guess.sure:.2f}: {guess.why}")
    lines += asked.get("", [])
    lines += [f"    kind: {m.kind}", f"    part: {m.part}", f"    into: {m.into}", *asked.get("pairs", [])]
    lines.append("    pairs:")
    for p in m.pairs:
        depth = f", depth: {mm(p.depth)}" if p.depth else ""
        lines.append(f"      - {{moving: {p.moving}, fixed: {p.fixed_part}.{p.fixed}{depth}}}")
    lines += [f"    needs: [{', '.join(m.needs)}]        # it would bar their way"] if m.needs else []
    lines += [f"    clamps: [{', '.join(m.clamps)}]"] if m.clamps else []
    lines += [f"    tool: {m.tool}"] if m.tool else []
    lines += [*asked.get("torque", []), f"    torque: {m.torque:g} N m"] if m.torque else []
    lines += [f"    held_until: {m.held_until}"] if m.held_until else []
    lines += ["    free_roll: true"] if m.free_roll else []
    lines += [*asked.get("stays", []), "    stays: true"] if m.stays else []
    lines += [f"    stands: {m.stands.removeprefix('place.')}"] if m.stands else []
    return [*lines, ""]


def _tightening(pattern: Tightening) -> list[str]:
    stages = ", ".join(_stage(s) for s in pattern.stages)
    return [
        f"  {pattern.name}:       # crosswise",
        f"    screws: [{', '.join(pattern.screws)}]",
        f"    stages: [{stages}]",
    ]


def _stage(stage: Stage) -> str:
    if stage.turns is not None:
        return f"{{turns: {stage.turns / 6.283185307179586:.3g} turns}}"
    return f"{{torque: {stage.torque:g} N m}}"
