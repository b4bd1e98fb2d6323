"""A figure in the terminal, read back from its cells."""

from logger.domain.figure import Corridor, Curve, Figure, Panel
from logger.export.figure_braille import LABEL, figure_lines


def figure_of(*pieces, corridors=()):
    panel = Panel(title="pressure", unit="bar", curves=(Curve(name="", pieces=pieces),), corridors=corridors)
    return Figure(title="one", start_s=0.0, end_s=10.0, panels=(panel,))


def cells_of(figure, columns=LABEL + 10, rows=4):
    return [line[LABEL:].ljust(10, "\u2800") for line in figure_lines(figure, columns, rows)[2:-1]]


def test_a_diagonal_runs_from_corner_to_corner():
    cells = cells_of(figure_of(((0.0, 0.0), (10.0, 4.0))))
    assert len(cells) == 4
    assert ord(cells[-1][0]) - 0x2800 & 0x40
    assert ord(cells[0][-1]) - 0x2800 & 0x08
    assert cells[0][0] == cells[-1][-1] == "\u2800"


def test_a_gap_stays_empty():
    cells = cells_of(figure_of(((0.0, 1.0), (3.0, 1.0)), ((7.0, 1.0), (10.0, 1.0))))
    middle = "".join(row[4:6] for row in cells)
    assert set(middle) == {"\u2800"}
    assert any(row[0] != "\u2800" for row in cells)


def test_the_plan_is_dotted_and_labels_stand_at_the_edges():
    figure = figure_of(
        ((0.0, 1.0), (10.0, 1.0)), corridors=(Corridor(start_s=0.0, end_s=10.0, low=0.0, high=2.0),)
    )
    lines = figure_lines(figure, 40, 4)
    assert lines[2].startswith("     2.0 ")
    assert lines[5].startswith("     0.0 ")
    assert lines[-1].split() == ["0", "s", "10", "s"]
    assert set(cells_of(figure)[0]) != {"\u2800"}


def test_an_empty_figure_is_drawn_empty():
    assert set("".join(cells_of(figure_of()))) == {"\u2800"}
