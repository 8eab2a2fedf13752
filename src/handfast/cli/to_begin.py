"""Commands that begin a project and look at what stands in it.

What one does stands in do_VERB.py and loads with it.
"""

from __future__ import annotations

from typing import Annotated

import typer

from handfast.cli.options import Folder, Json, Seed, Unit, end


def new(
    folder: Annotated[str, typer.Argument(metavar="NAME", help="The project folder to make.")],
    answers: Annotated[
        str | None, typer.Option(metavar="FILE", help="Take the answers from a YAML file instead of asking.")
    ] = None,
    source: Annotated[
        str | None,
        typer.Option("--from", metavar="FILE", help="Begin from a STEP assembly, or one part as a mesh."),
    ] = None,
    base: Annotated[
        str | None, typer.Option(help="With --from: the part that all is built on; else the largest.")
    ] = None,
    seconds: Annotated[float, typer.Option(min=1, help="With --from: how long reading may take.")] = 300,
    largest: Annotated[float, typer.Option(min=0, help="With --from: largest file, in MB.")] = 200,
    unit: Unit = None,
) -> None:
    """Begin a project: from a drawn assembly, or with about ten questions."""
    if source is not None:
        from handfast.cli.do_new_from_cad import do_new_from_cad
        from handfast.geometry.cad.read_cad import Limits

        limits = Limits(seconds=seconds, largest=round(1e6 * largest))
        end(lambda: do_new_from_cad(folder, source, base, limits, unit))
    from handfast.cli.do_new import do_new

    end(lambda: do_new(folder, answers))


def features(
    source: Annotated[
        str,
        typer.Argument(metavar="FILE", help="A STEP file, or a part as STL, OBJ, PLY, 3MF or GLB."),
    ],
    part: Annotated[str | None, typer.Option(help="Only this part.")] = None,
    pictures: Annotated[
        str | None, typer.Option(metavar="DIR", help="Draw each part there as a PNG, faces coloured by kind.")
    ] = None,
    why: Annotated[bool, typer.Option("--why", help="Tell of each other face why it is no feature.")] = False,
    seconds: Annotated[float, typer.Option(min=1, help="How long reading may take.")] = 300,
    largest: Annotated[float, typer.Option(min=0, help="Largest file, in MB.")] = 200,
    unit: Unit = None,
    json: Json = False,
) -> None:
    """List the features of drawn parts: what was found, how sure, and why a face is none."""
    from handfast.cli.do_features import do_features
    from handfast.geometry.cad.read_cad import Limits

    limits = Limits(seconds=seconds, largest=round(1e6 * largest))
    end(lambda: do_features(source, part, pictures, why, limits, json, unit))


def check(project: Folder, json: Json = False) -> None:
    """Find every mistake in the project files, with its place and the fix."""
    from handfast.cli.do_check import do_check

    end(lambda: do_check(project, json))


def explain(rule: Annotated[str, typer.Argument(metavar="RULE", help="The name in brackets.")]) -> None:
    """Tell what a rule about project files asks for, and why."""
    from handfast.cli.do_check import do_explain

    end(lambda: do_explain(rule))


def schema(
    out: Annotated[str, typer.Option(help="The folder to write them to.", metavar="DIR")] = "schema",
) -> None:
    """Write JSON Schemas of the project files, by which editors check and complete them."""
    from handfast.cli.do_schema import do_schema

    end(lambda: do_schema(out))


def layout(
    project: Folder,
    work: Annotated[int, typer.Option(min=0, help="How many layouts to plan the product in.")] = 20,
    keep: Annotated[
        list[str] | None, typer.Option("--keep", metavar="NAME", help="An arm or a holder that stays put.")
    ] = None,
    drawing: Annotated[
        str | None,
        typer.Option("--map", metavar="FILE", help="Draw what arms reach, from above (SVG)."),
    ] = None,
    accept: Annotated[bool, typer.Option("--accept", help="Write what is better into cell.yaml.")] = False,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Tell what each arm reaches, look for places where arms and holders stand better, and compare one, two
    or three arms."""
    from handfast.cli.do_layout import do_layout

    end(lambda: do_layout(project, work, keep or [], drawing, accept, seed, json))
