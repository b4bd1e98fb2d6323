"""A sheet as one A5 page of PDF: the same sheet gives the same bytes, fonts embedded."""

from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib.colors import black, white
from reportlab.lib.pagesizes import A5
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepInFrame, Paragraph, Table, TableStyle

from logger.domain.sheet import Sheet, SheetSection
from logger.export.fonts import BOLD, PLAIN, register_fonts

MARGIN = 8 * mm
_LABEL, _NOTE = 32 * mm, 12 * mm


def sheet_pdf(sheet: Sheet) -> bytes:
    """Draw `sheet` on one A5 page; what would not fit is set smaller, never left out."""
    register_fonts()
    stream = BytesIO()
    canvas = Canvas(stream, pagesize=A5, invariant=True, pageCompression=1, initialFontName=PLAIN)
    canvas.setTitle(sheet.title)
    canvas.setAuthor("Beadwatch")
    width, height = A5[0] - 2 * MARGIN, A5[1] - 2 * MARGIN
    frame = KeepInFrame(width, height, list(_story(sheet, width)), mode="shrink")
    _, used = frame.wrapOn(canvas, width, height)
    frame.drawOn(canvas, MARGIN, A5[1] - MARGIN - used)
    canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _style(size: float, *, bold: bool = False, before: float = 0.0) -> ParagraphStyle:
    font = BOLD if bold else PLAIN
    return ParagraphStyle(
        f"{font}{size}", fontName=font, fontSize=size, leading=size * 1.2, spaceBefore=before
    )


def _story(sheet: Sheet, width: float) -> list[Flowable]:
    story: list[Flowable] = [
        Paragraph(escape(sheet.title), _style(12, bold=True)),
        Paragraph(escape(sheet.subtitle), _style(8)),
    ]
    if sheet.warning:
        banner = ParagraphStyle("banner", parent=_style(9, bold=True), textColor=white)
        table = Table([[Paragraph(escape(sheet.warning), banner)]], colWidths=[width], hAlign="LEFT")
        table.setStyle(
            TableStyle([("BACKGROUND", (0, 0), (-1, -1), black), ("FONTNAME", (0, 0), (-1, -1), PLAIN)])
        )
        story.append(table)
    for section in sheet.sections:
        story += _section(section, width)
    story.append(Paragraph("Sources", _style(7, bold=True, before=3)))
    story += [Paragraph(escape(note), _style(5.5)) for note in sheet.footnotes]
    return story


def _section(section: SheetSection, width: float) -> list[Flowable]:
    story: list[Flowable] = [Paragraph(escape(section.heading), _style(9, bold=True, before=4))]
    if section.rows:
        cells = [
            [
                Paragraph(escape(row.label), _style(8)),
                Paragraph(escape(row.value), _style(11 if row.strong else 9, bold=row.strong)),
                Paragraph(escape(row.note), _style(6)),
            ]
            for row in section.rows
        ]
        table = Table(cells, colWidths=[_LABEL, width - _LABEL - _NOTE, _NOTE], hAlign="LEFT")
        table.setStyle(
            TableStyle(
                [
                    ("FONTNAME", (0, 0), (-1, -1), PLAIN),
                    ("LINEBELOW", (0, 0), (-1, -1), 0.3, black),
                    ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                    ("TOPPADDING", (0, 0), (-1, -1), 1),
                    ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
                ]
            )
        )
        story.append(table)
    story += [Paragraph(f"• {escape(bullet)}", _style(6.5)) for bullet in section.bullets]
    return story
