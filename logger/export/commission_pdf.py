"""The commissioning sheet as one A4 page of PDF, with lines to sign by hand."""

from reportlab.lib.colors import black
from reportlab.platypus import Flowable, Spacer, Table, TableStyle

from logger.domain.commissioning import CommissioningSheet
from logger.export.fonts import PLAIN, register_fonts
from logger.export.report_pdf import WIDTH, boxed, pages_pdf, paragraph, table_of

SIGNATURE_HEIGHT = 34.0


def commission_pdf(sheet: CommissioningSheet, banner: str) -> bytes:
    """Draw the sheet; the same sheet gives the same bytes. An empty `banner` is left out."""
    register_fonts()
    story: list[Flowable] = [
        paragraph(sheet.title, 14, bold=True),
        paragraph(sheet.subtitle, 9),
        Spacer(1, 6),
    ]
    if banner:
        story += [boxed(banner), Spacer(1, 6)]
    facts = [[paragraph(row.label, 8, bold=True), paragraph(row.value, 8)] for row in sheet.facts]
    story += [_ruled(facts, (0.2, 0.8)), Spacer(1, 10), table_of(sheet.results, WIDTH, 8), Spacer(1, 8)]
    story += [paragraph(caution, 7.5) for caution in sheet.cautions]
    blanks = [
        [paragraph(role, 8, bold=True), paragraph("name, date", 7), paragraph("signature", 7)]
        for role in sheet.signatures
    ]
    story += [Spacer(1, 10), _ruled(blanks, (0.2, 0.4, 0.4), SIGNATURE_HEIGHT)]
    return pages_pdf(sheet.title, [story])


def _ruled(cells: list[list[Flowable]], shares: tuple[float, ...], height: float | None = None) -> Table:
    table = Table(
        cells,
        colWidths=[share * WIDTH for share in shares],
        rowHeights=None if height is None else [height] * len(cells),
        hAlign="LEFT",
    )
    table.setStyle(
        TableStyle(
            [
                ("FONTNAME", (0, 0), (-1, -1), PLAIN),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("LINEBELOW", (0, 0), (-1, -1), 0.3, black),
            ]
        )
    )
    return table
