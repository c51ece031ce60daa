"""Sentences of the reports, as a page says them: without the options of the command line, and aloud."""

import re

from sizing.web.reading.wishes import FIELDS, GOALS, SHAPES

_NAMES = {
    **{name.replace("_", "-"): text for name, text in FIELDS.items()},
    **{name: text for name, text in {**GOALS, **SHAPES}.items() if name},
}
_GIVE = re.compile(r"\bgive --([a-z-]+)")
_COMMAND = re.compile(r"(?: with| in|: see) strandgauge(?: [a-z]+)+(?: [0-9]+)?")
_OTHER = re.compile(r"(\bwith )?--([a-z-]+)")
_ALOUD = (
    (re.compile(r" ?± ?"), " give or take "),
    (re.compile(r"(?<=\d) mm\b"), " millimetres"),
    (re.compile(r"(?<=\d) in\b(?= at\b| in\b)"), " inches"),
    (re.compile(r"(?<=\d) in\b(?=[),.;:]|$| \()"), " inches"),
    (re.compile(r"(?<=\d) x (?=\d)"), " by "),
    (re.compile(r" \(([^()]*inches)\)"), r", \1"),
)


def for_page(sentence: str) -> str:
    """Return a sentence that names the fields of a page where it named options, and no command.

    Examples
    --------
    >>> for_page("Clasp and findings are assumed to take 1 in; give --findings if yours differ.")
    'Clasp and findings are assumed to take 1 in; set “Clasp and findings” if yours differ.'
    >>> for_page("Give the length of the piece with --finished; say which with --size.")
    'Give the length of the piece as “Finished length”; say which “size”.'
    """
    sentence = _COMMAND.sub("", sentence)
    named = _GIVE.sub(lambda match: f"set {_quoted(match[1])}", sentence)
    return _OTHER.sub(_as_field, named)


def aloud(sentence: str) -> str:
    """Return a sentence as it is read aloud.

    Examples
    --------
    >>> aloud("Remove 1 bead to finish at 250.0 mm (9 13/16 in).")
    'Remove 1 bead to finish at 250.0 millimetres, 9 13/16 inches.'
    """
    for pattern, said in _ALOUD:
        sentence = pattern.sub(said, sentence)
    return sentence


def _as_field(match: re.Match[str]) -> str:
    """Name a field; a kind of target is chosen on the page, where it is an option with a length elsewhere."""
    return f"{'as ' if match[1] and match[2] in GOALS else ''}{_quoted(match[2])}"


def _quoted(option: str) -> str:
    return f"“{_NAMES.get(option, option)}”"
