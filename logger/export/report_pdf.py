"""A joint's report as one A4 page of PDF: the same report gives the same bytes, fonts embedded."""

from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing
from reportlab.lib.colors import black, white
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepInFrame, Paragraph, Spacer, Table, TableStyle

from logger.domain.report import JointReport, ReportTable
from logger.domain.sheet import SheetRow
from logger.export.figure_drawing import figure_drawing
from logger.export.fonts import BOLD, PLAIN, register_fonts

MARGIN = 12 * mm
WIDTH, HEIGHT = A4[0] - 2 * MARGIN, A4[1] - 2 * MARGIN
FIGURE_HEIGHTS = (205.0, 112.0)
QR_SIZE = 62.0
FACT_COLUMNS = 2


def report_pdf(report: JointReport) -> bytes:
    """Draw `report` on one A4 page; what would not fit is set smaller, never left out."""
    return pages_pdf(report.title, [_story(report)])


def pages_pdf(title: str, pages: list[list[Flowable]]) -> bytes:
    """One A4 page for each story."""
    register_fonts()
    stream = BytesIO()
    canvas = Canvas(stream, pagesize=A4, invariant=True, pageCompression=1, initialFontName=PLAIN)
    canvas.setTitle(title)
    canvas.setAuthor("Beadwatch")
    for story in pages:
        frame = KeepInFrame(WIDTH, HEIGHT, story, mode="shrink")
        _, used = frame.wrapOn(canvas, WIDTH, HEIGHT)
        frame.drawOn(canvas, MARGIN, A4[1] - MARGIN - used)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def paragraph(text: str, size: float, *, bold: bool = False, ink: object = black) -> Paragraph:
    """Plain text in the page's typeface; its markup characters stay what they are."""
    font = BOLD if bold else PLAIN
    style = ParagraphStyle(font, fontName=font, fontSize=size, leading=size * 1.22, textColor=ink)
    return Paragraph(escape(text), style)


def table_of(table: ReportTable, width: float, size: float = 6.5) -> Table:
    """Headings over rows, a hair line under each."""
    cells = [[paragraph(text, size, bold=True) for text in table.headings]]
    cells += [[paragraph(text, size) for text in row] for row in table.rows]
    drawn = Table(cells, colWidths=[share * width for share in table.shares], hAlign="LEFT", repeatRows=1)
    drawn.setStyle(TableStyle([*_TIGHT, ("LINEBELOW", (0, 0), (-1, -1), 0.3, black)]))
    return drawn


_TIGHT = [
    ("FONTNAME", (0, 0), (-1, -1), PLAIN),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("TOPPADDING", (0, 0), (-1, -1), 0.8),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.2),
    ("LEFTPADDING", (0, 0), (-1, -1), 2),
    ("RIGHTPADDING", (0, 0), (-1, -1), 2),
]


def _story(report: JointReport) -> list[Flowable]:
    register_fonts()
    story: list[Flowable] = [_heading(report)]
    if report.banner:
        story.append(boxed(report.banner))
    story += [Spacer(1, 3), _lines(report.lines), Spacer(1, 3), _facts(report.facts), Spacer(1, 4)]
    for figure, height in zip(report.figures, FIGURE_HEIGHTS, strict=False):
        story += [figure_drawing(figure, WIDTH, height), Spacer(1, 2)]
    story += [table_of(report.phases, WIDTH), Spacer(1, 4)]
    story.append(paragraph("Findings" if report.findings else "Findings: none", 7.5, bold=True))
    story += [paragraph(f"• {finding}", 6.5) for finding in report.findings]
    if report.said:
        story.append(paragraph("Said of it", 7.5, bold=True))
        story += [paragraph(f"• {line}", 6.5) for line in report.said]
    story += [Spacer(1, 4), _foot(report)]
    return story


def _heading(report: JointReport) -> Table:
    left = [paragraph(report.title, 14, bold=True), paragraph(report.subtitle, 7.5)]
    right = [paragraph("verdict of the recorded curve", 6), paragraph(report.verdict, 12, bold=True)]
    table = Table([[left, right]], colWidths=[WIDTH * 0.68, WIDTH * 0.32], hAlign="LEFT")
    table.setStyle(TableStyle([*_TIGHT, ("BOX", (1, 0), (1, 0), 1.2, black)]))
    return table


def boxed(text: str) -> Table:
    """White on black, across the page."""
    table = Table([[paragraph(text, 9, bold=True, ink=white)]], colWidths=[WIDTH], hAlign="LEFT")
    table.setStyle(TableStyle([*_TIGHT, ("BACKGROUND", (0, 0), (-1, -1), black)]))
    return table


def _lines(rows: tuple[SheetRow, ...]) -> Table:
    cells = [[paragraph(row.label, 7.5, bold=True), paragraph(row.value, 7.5)] for row in rows]
    table = Table(cells, colWidths=[WIDTH * 0.16, WIDTH * 0.84], hAlign="LEFT")
    table.setStyle(TableStyle([*_TIGHT, ("BOX", (0, 0), (-1, -1), 0.6, black)]))
    return table


def _facts(rows: tuple[SheetRow, ...]) -> Table:
    """Read down the first column, then down the next."""
    tall = -(-len(rows) // FACT_COLUMNS)
    columns = [rows[k * tall : (k + 1) * tall] for k in range(FACT_COLUMNS)]
    cells = [
        [cell for column in columns for cell in _fact(column[k] if k < len(column) else None)]
        for k in range(tall)
    ]
    widths = [WIDTH * 0.14, WIDTH * 0.36] * FACT_COLUMNS
    table = Table(cells, colWidths=widths, hAlign="LEFT")
    table.setStyle(TableStyle(_TIGHT))
    return table


def _fact(row: SheetRow | None) -> tuple[Flowable | str, Flowable | str]:
    return ("", "") if row is None else (paragraph(row.label, 6.5), paragraph(row.value, 6.5))


def _foot(report: JointReport) -> Table:
    texts = [paragraph(line, 6, bold=True) for line in report.seal]
    texts += [paragraph(note, 5.5) for note in report.notes]
    cells: list[list[object]] = [[texts, _code(report.witness) if report.witness else ""]]
    table = Table(cells, colWidths=[WIDTH - QR_SIZE - 6, QR_SIZE + 6], hAlign="LEFT")
    table.setStyle(TableStyle([*_TIGHT, ("LINEABOVE", (0, 0), (-1, 0), 0.6, black)]))
    return table


def _code(text: str) -> Drawing:
    widget = QrCodeWidget(text, barLevel="M", barBorder=2)
    left, bottom, right, top = widget.getBounds()
    scale = QR_SIZE / max(right - left, top - bottom)
    drawing = Drawing(QR_SIZE, QR_SIZE, transform=[scale, 0, 0, scale, 0, 0])
    drawing.add(widget)
    return drawing
