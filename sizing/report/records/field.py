"""A field of a result, declared once: what it means, and how it is taken from a record.

JSON objects (`record`), rows of a CSV table (`row`) and the README's table (`sizing.report.records.readme`)
follow from tuples of declarations.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Any, Generic, Literal, TypeVar, cast

Subject = TypeVar("Subject")
Outer = TypeVar("Outer")

Record = dict[str, object]

_UNITS = {"_mm": "mm", "_g": "g", "_px": "pixels", "_deg": "degrees"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Field(Generic[Subject]):
    """One field.

    Attributes
    ----------
    name : str
        Key in JSON, column in CSV.
    meaning : str
        In plain words; empty where the field before it speaks for both, as a size for its uncertainty.
    unit : str
        Of a number; empty where the name ends in it, or there is none.
    take : callable or None
        Takes the value from the record that the field is of; None for the attribute of the field's name.
    fields : tuple of Field or None
        Where what is taken is a record again: its fields.
    many : bool
        What is taken is a sequence of such records.
    given : callable or None
        Whether the field stands in JSON at all; None for always.
    json : bool
        Stands in JSON.
    csv : str
        `column` or, before those, `first column` of a CSV table; empty where it does not stand there.
    """

    name: str
    meaning: str = ""
    unit: str = ""
    take: Callable[[Subject], object] | None = None
    fields: "Fields[Any] | None" = None
    many: bool = False
    given: Callable[[Subject], bool] | None = None
    json: bool = True
    csv: Literal["", "column", "first column"] = ""

    @property
    def unit_or_suffix(self) -> str:
        """The unit as declared, else as the name's ending says it."""
        return self.unit or next((unit for end, unit in _UNITS.items() if self.name.endswith(end)), "")

    def taken(self, subject: Subject) -> Any:  # noqa: ANN401 - whatever a record holds
        """Take the value as it is."""
        return attrgetter(self.name)(subject) if self.take is None else self.take(subject)

    def value(self, subject: Subject) -> object:
        """Take the value, records in it as JSON objects."""
        taken = self.taken(subject)
        if self.fields is None or taken is None:
            return taken
        return [record(self.fields, each) for each in taken] if self.many else record(self.fields, taken)


Fields = tuple[Field[Subject], ...]


def record(fields: Fields[Subject], subject: Subject) -> Record:
    """Return a subject as a JSON object, its keys in the order of their declarations."""
    return {
        field.name: field.value(subject)
        for field in fields
        if field.json and (field.given is None or field.given(subject))
    }


def row(fields: Fields[Subject], subject: Subject) -> Record:
    """Return a subject as a row of a CSV table, its columns in the order of their declarations."""
    columns = [field for field in fields if field.csv == "first column"]
    columns += [field for field in fields if field.csv == "column"]
    return {field.name: field.value(subject) for field in columns}


def within(part: Callable[[Outer], Subject], fields: Fields[Subject]) -> Fields[Outer]:
    """Return the fields of a part as fields of the whole that it is taken from."""
    return tuple(_within(part, field) for field in fields)


def _within(part: Callable[[Outer], Subject], field: Field[Subject]) -> Field[Outer]:
    given, inner = field.given, cast("Field[Any]", field)
    return replace(
        inner,
        take=lambda whole: field.taken(part(whole)),
        given=None if given is None else lambda whole: given(part(whole)),
    )
