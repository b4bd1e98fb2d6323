"""What a verification found, in words, and what it could not have found."""

from collections.abc import Iterator

from logger.domain.seal import Fault, Verification

_TEXTS: dict[str, str] = {
    "unreadable": "cannot be read as sealed: {reason}",
    "link.text": "link {link} is not the text of a link",
    "link.signature": "the signature of link {link} does not hold",
    "link.place": "link {link} was signed for another place",
    "link.key": "link {link} is signed by {key}, a key that was not given",
    "link.announced": "link {link} names keys in a way that does not hold",
    "link.order": "a link is missing or moved before link {link}",
    "link.missing": "link {link} is missing",
    "link.use": "its key is not one for this origin and time scale",
    "rows.changed": "rows of {table} are not those that link {link} sealed",
    "rows.missing": "rows of {table} are missing or moved",
    "rows.unsealed": "rows of {table} are not sealed",
    "rows.before_sealing": "{count} rows of {table} are from before sealing and prove nothing",
    "samples.changed": "the samples are not those that link {link} sealed",
    "samples.unsealed": "{count} samples are not sealed",
    "joint.unsealed": "not sealed: nothing can be shown about it",
    "joint.missing": "{table} speaks of this joint, which is not there",
    "import.missing": "was imported, and link {link} of it is gone or changed",
    "import.unknown": "is of another record and was never imported",
    "attachment.changed": "the copy of {file} is not the file that was attached",
    "attachment.missing": "the copy of {file} is not here; its hash is in the record",
    "record.unsealed": "the record has no seals at all",
    "schema.changed": "tables or triggers are not those that Beadwatch makes",
    "summary.changed": "the summary that lists are read from does not say what the evidence says",
    "key.changed": "from link {link} on another key signs: {key}",
    "key.renewed": "from link {link} on the key signs that the one before had named: {key}",
    "key.retired": "link {link} is signed by {key}, which had named its successor before",
    "key.mixed": "key {key} signs both live joints and demonstrations",
    "head.missing": "is not in what was checked; a joint's own file holds the links of that joint only",
    "head.differs": "is not what stands at its place: the record was cut off or rolled back",
}

NO_KEY = (
    "Not to be found without --key: a record signed anew as a whole with another key. Compare the "
    "fingerprints above with those on the rig's own paper."
)
NO_HEAD = (
    "Not to be found without --head: records cut off at the end, and a record put back as a whole to an "
    "earlier state."
)
ALWAYS = "Whoever holds the signing key can forge what no published head names yet."


def fault_text(fault: Fault) -> str:
    """Return one line. Raises KeyError for a code without text."""
    text = _TEXTS[fault.code].format_map(fault.parameters)
    return f"{fault.where}: {text} [{fault.code}]" if fault.where else f"{text} [{fault.code}]"


def verification_lines(found: Verification, *, has_keys: bool, has_heads: bool) -> Iterator[str]:
    """Yield the faults, the notes, the keys, and what could not have been found."""
    for fault in found.faults:
        yield f"FAULT  {fault_text(fault)}"
    for note in found.notes:
        yield f"note   {fault_text(note)}"
    joints = f"{found.joint_count} joint{'' if found.joint_count == 1 else 's'}, {found.link_count} links"
    yield f"{joints}: " + ("no fault found" if found.is_good else "NOT PROVEN")
    for key, uses in sorted(found.keys.items()):
        yield f"signed by {fingerprint_text(key)} ({', '.join(sorted(uses))})"
    yield from [] if has_keys else [NO_KEY]
    yield from [] if has_heads else [NO_HEAD]
    yield ALWAYS


def fingerprint_text(fingerprint: str) -> str:
    """Return a fingerprint in groups of four."""
    return "-".join(fingerprint[k : k + 4] for k in range(0, len(fingerprint), 4))
