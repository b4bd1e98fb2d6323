"""The code in characters is read back by an independent reader of codes."""

import numpy
import zxingcpp

from logger.export.qr_text import qr_lines

SQUARE = 6
LIGHT_OF = {"█": (255, 255), "▄": (0, 255), "▀": (255, 0), " ": (0, 0)}


def test_a_reader_of_codes_reads_the_text_back():
    text = "212293886e3f3a533aca3e51945094f3:22:" + "d9ae311029652116f001934ce5736fcf" * 2
    lines = list(qr_lines(text))
    assert len({len(line) for line in lines}) == 1
    rows = [[LIGHT_OF[mark][half] for mark in line] for line in lines for half in (0, 1)]
    image = numpy.kron(numpy.array(rows, dtype=numpy.uint8), numpy.ones((SQUARE, SQUARE), dtype=numpy.uint8))
    (code,) = zxingcpp.read_barcodes(image)
    assert code.text == text
