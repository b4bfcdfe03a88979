"""JSON Schemas of our types: msgspec's own, then closed, whole-numbered and without surprises."""

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from msgspec import Struct

REF = "#/components/schemas/{name}"


class Components:
    """The named schemas of a document, and how to refer to them."""

    def __init__(self, types: Sequence[Any]) -> None:
        self._types = list(types)
        made, named = msgspec.json.schema_components(self._types, ref_template=REF)
        self._made = list(made)
        self._named = {name: _tidy(schema) for name, schema in named.items()}

    @property
    def schemas(self) -> dict[str, Any]:
        """Every schema that is referred to, in order of name; parameters stand where they are."""
        return {
            name: schema
            for name, schema in sorted(self._named.items())
            if not name.endswith("Query") and name not in _ONLY_PARAMETERS
        }

    def schema(self, kind: Any) -> dict[str, Any]:
        """Return the schema of a type given at the beginning."""
        if kind is str:
            return {"type": "string"}
        if kind is dict:
            return {"type": "object"}
        made: dict[str, Any] = _tidy(self._made[self._types.index(kind)])
        return made

    def parameters_of(self, query: type[Struct]) -> dict[str, Any]:
        """Return the schema of a struct of parameters."""
        if not query.__struct_fields__:
            return {"properties": {}}
        named: dict[str, Any] = self._named[query.__name__]
        return named


_ONLY_PARAMETERS: frozenset[str] = frozenset()


def _tidy(schema: Any) -> Any:
    """Write bounds as whole numbers where they are, and leave `default: null` out.

    A generator of clients takes a property with a default for one that is always there.
    """
    if isinstance(schema, list | tuple):
        return [_tidy(item) for item in schema]
    if not isinstance(schema, Mapping):
        return schema
    tidy = {key: _tidy(value) for key, value in schema.items()}
    for bound in ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"):
        value = tidy.get(bound)
        if isinstance(value, float) and value.is_integer():
            tidy[bound] = int(value)
    if "default" in tidy and tidy["default"] is None:
        del tidy["default"]
    return tidy
