"""Rows as CSV, XLSX and Parquet; a cell that a spreadsheet would run as a formula is made plain text."""

import csv
from collections.abc import Iterable, Mapping, Sequence
from io import BytesIO, StringIO

import xlsxwriter

from logger.errors import InputError
from logger.export.tables import Cell, Row

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""What spreadsheets take for the start of a formula (common practice, no source)."""


def plain(cell: Cell) -> Cell:
    """Return text that would run as a formula with an apostrophe before it; numbers stay numbers."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA_STARTS) else cell


def csv_file(headings: Sequence[str], rows: Iterable[Row]) -> bytes:
    """UTF-8, comma, one header line; an empty field is no value; floats at full precision."""
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(headings)
    writer.writerows([_text(plain(cell)) for cell in row] for row in rows)
    return stream.getvalue().encode()


def xlsx_file(sheets: Mapping[str, tuple[Sequence[str], Iterable[Row]]]) -> bytes:
    """A workbook with one sheet for each table; text is written as text, never as a formula."""
    stream = BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True, "strings_to_formulas": False}) as book:
        bold = book.add_format({"bold": True})
        for name, (headings, rows) in sheets.items():
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            for column, heading in enumerate(headings):
                sheet.write_string(0, column, heading, bold)
            for number, row in enumerate(rows, 1):
                for column, cell in enumerate(row):
                    if isinstance(cell, str):
                        sheet.write_string(number, column, cell)
                    elif cell is not None:
                        sheet.write(number, column, cell)
    return stream.getvalue()


def parquet_file(headings: Sequence[str], rows: Sequence[Row], about: dict[str, str]) -> bytes:
    """One table, columns of the type of their first value, `about` as its metadata.

    Raises InputError where the library for it is not installed.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as error:
        raise InputError("Parquet needs the extra: pip install 'beadwatch[parquet]'") from error
    columns = {heading: [row[k] for row in rows] for k, heading in enumerate(headings)}
    table = pa.table(columns).replace_schema_metadata(about)
    stream = BytesIO()
    pq.write_table(table, stream, compression="zstd")
    return stream.getvalue()


def _text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return repr(cell) if isinstance(cell, float) else str(cell)
