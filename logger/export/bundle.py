"""A zip that a stranger can verify with Python and one library: files, verifier, how to use it."""

import zipfile
from importlib.resources import files
from io import BytesIO

VERIFIER = "verify_record.py"
READ_ME = """A joint recorded by Beadwatch, sealed.

*.sealed.json   the sealed joint: everything the record holds of it, with its signatures
*.csv           its curve
*.pdf           its report
verify_record.py  the verifier; it needs Python 3.11 and the package cryptography, nothing of Beadwatch

    python verify_record.py NAME.sealed.json --key FINGERPRINT [--head CHAIN:SEQ:HASH]

Take the fingerprint from the rig's own commissioning sheet and the head from paper or from a place that the
rig does not write to: without them a forger could have made both. The CSV and the PDF are copies for reading,
the sealed joint is the evidence. The verdict is that of the recorded curve: a curve cannot show dirt, touched
faces, draught or moisture.
"""
_EPOCH = (1980, 1, 1, 0, 0, 0)


def bundle_of(contents: dict[str, bytes]) -> bytes:
    """Zip these files with the verifier and a page on its use; the same files give the same bytes."""
    verifier = (files("configs") / "verifier" / VERIFIER).read_bytes()
    stream = BytesIO()
    with zipfile.ZipFile(stream, "w") as bundle:
        for name, data in {**contents, VERIFIER: verifier, "READ-ME.txt": READ_ME.encode()}.items():
            entry = zipfile.ZipInfo(name, date_time=_EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            bundle.writestr(entry, data)
    return stream.getvalue()
