"""`beadwatch joints curve`: stored curves as a trace, as a picture, in the terminal, over one another."""

import csv
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out
from logger.cli.dossiers import dossier_of
from logger.cli.places import default_store
from logger.domain.dossier import Dossier
from logger.domain.figure import Figure
from logger.domain.phase import Phase
from logger.domain.sample import Sample
from logger.errors import InputError
from logger.export.atomic import write_whole
from logger.export.curves import joint_figure, overlay_figure
from logger.export.figure_braille import figure_lines
from logger.export.figure_drawing import figure_pdf, figure_png, figure_svg
from logger.store.reader import Reader
from logger.wording.joint_list_text import joint_label

WRITERS = {".png": figure_png, ".svg": figure_svg, ".pdf": figure_pdf}
TERMINAL_ROWS = 22


def curve(
    joints: Annotated[list[str], typer.Argument(metavar="JOINT...", help="Joint numbers or ids.")],
    store: Annotated[Path | None, typer.Option(help="The record.", readable=False)] = None,
    attempt: Annotated[int | None, typer.Option(help="Which attempt; the latest by default.")] = None,
    picture: Annotated[Path | None, typer.Option(help="Draw into this .png, .svg or .pdf.")] = None,
    terminal: Annotated[bool, typer.Option("--terminal", help="Draw here, in braille.")] = False,
    at: Annotated[Phase, typer.Option(help="Lay several over one another from here.")] = Phase.CHANGEOVER,
) -> None:
    """Print a stored curve as a trace CSV, or draw one or several over the plan."""
    if picture is not None and picture.suffix not in WRITERS:
        raise InputError(f"{picture.suffix or 'no ending'}: one of {', '.join(WRITERS)}", key="--picture")
    with Reader(store or default_store()) as reader:
        dossiers = [dossier_of(reader, reader.joint(joint, attempt=attempt)) for joint in joints]
    if picture is not None:
        write_whole(picture, WRITERS[picture.suffix](_figure(dossiers, at)))
        out([str(picture)])
    elif terminal or len(dossiers) > 1:
        columns = shutil.get_terminal_size((80, 24)).columns
        out(figure_lines(_figure(dossiers, at), columns, TERMINAL_ROWS))
    else:
        _print_trace(dossiers[0].samples)


def _figure(dossiers: Sequence[Dossier], at: Phase) -> Figure:
    names = [joint_label(d.record) for d in dossiers]
    title = f"Joint {', '.join(names)}"
    if len(dossiers) == 1:
        return joint_figure(title, dossiers[0].samples, dossiers[0].judgement)
    joints = [(name, d.samples, d.judgement) for name, d in zip(names, dossiers, strict=True)]
    return overlay_figure(f"{title}, from the start of {at.replace('_', ' ')}", joints, at=at)


def _print_trace(samples: Sequence[Sample]) -> None:
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(("time_s", "pressure_bar", "plate_temperature_degC", "carriage_mm", "plate_in"))
    writer.writerows(_fields(sample) for sample in samples)


def _fields(sample: Sample) -> tuple[str, ...]:
    def text(value: float | None, digits: int) -> str:
        return "" if value is None else f"{value:.{digits}f}"

    plate_in = "" if sample.plate_in is None else str(int(sample.plate_in))
    return (
        f"{sample.t_s:.3f}",
        text(sample.pressure_bar, 4),
        text(sample.plate_temperature_degC, 2),
        text(sample.carriage_mm, 2),
        plate_in,
    )
