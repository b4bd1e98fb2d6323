"""A zip that a stranger can verify with Python and one library: files, verifier, how to use it."""

import zipfile
from importlib.resources import files
from io import BytesIO

VERIFIER = "verify_record.py"
FORMAT = "record-format.md"
READ_ME = """A joint recorded by Beadwatch, sealed.

*.sealed.json   the sealed joint: everything the record holds of it, with its signatures
*.csv           its curve
*.pdf           its report
attachments/    files that were attached to it, where there are any; their hashes are in the sealed joint
record-format.md  what the sealed joint is made of, to be read without Beadwatch
verify_record.py  the verifier; it needs Python 3.11 and the package cryptography, nothing of Beadwatch

    python verify_record.py NAME.sealed.json --key FINGERPRINT --head "TEXT"

FINGERPRINT stands on the rig's commissioning sheet. TEXT is what the square code on the printed report of
this joint holds (photograph it, or copy the line "Link of this joint" beside it): "no fault" then means that
this file is the joint of that paper, with all that had been said of it when it was printed. Take both from
paper that lay elsewhere, not from this bundle: without them a forger could have made it all. The CSV and the
PDF are copies for reading, the sealed joint is the evidence. The verdict is that of the recorded curve: a
curve cannot show dirt, touched faces, draught or moisture.
"""
_EPOCH = (1980, 1, 1, 0, 0, 0)


def bundle_of(contents: dict[str, bytes]) -> bytes:
    """Zip these files with the verifier and a page on its use; the same files give the same bytes."""
    own = {
        VERIFIER: (files("configs") / "verifier" / VERIFIER).read_bytes(),
        FORMAT: (files("configs") / FORMAT).read_bytes(),
        "READ-ME.txt": READ_ME.encode(),
    }
    stream = BytesIO()
    with zipfile.ZipFile(stream, "w") as bundle:
        for name, data in {**contents, **own}.items():
            entry = zipfile.ZipInfo(name, date_time=_EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            bundle.writestr(entry, data)
    return stream.getvalue()
