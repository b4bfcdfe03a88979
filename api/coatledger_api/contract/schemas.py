"""JSON Schemas of our types: msgspec's own, then tidied for people and for generators of clients.

The unions of events get names, so that each is written once; alternatives told apart by `type` are
`oneOf`; bounds that are whole are written so; `default: null` is left out, because a generator
takes a property with a default for one that is always there.
"""

import inspect
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from coatledger.events.catalogue import AnyEvent, Plain
from coatledger.ledger.batch import Posted
from msgspec import Struct

REF = "#/components/schemas/{name}"
_PLACE = REF.format(name="")
_NAMED: tuple[tuple[str, str, Any], ...] = (
    ("Event", "One fact, of any kind.", AnyEvent),
    ("PlainEvent", "One fact about the work: anything but a correction or settlement.", Plain),
    ("Posted", "One fact, or a batch of them.", Posted),
)


class Components:
    """The named schemas of a document, and how to refer to them.

    `parameters` are structs that stand nowhere but in the parameters of an operation.
    """

    def __init__(self, types: Sequence[Any], parameters: Sequence[type[Struct]]) -> None:
        self._types = [*types, *parameters, *(kind for _, _, kind in _NAMED)]
        made, named = _told_apart(*msgspec.json.schema_components(self._types, ref_template=REF))
        unions = {
            tuple(one["$ref"] for one in schema["anyOf"]): name
            for (name, _, _), schema in zip(_NAMED, made[-len(_NAMED) :], strict=True)
        }
        self._made = [_tidy(schema, unions) for schema in made]
        self._named = {name: _tidy(schema, unions) for name, schema in named.items()}
        for (name, says, _), schema in zip(_NAMED, made[-len(_NAMED) :], strict=True):
            self._named[name] = {"description": says, **_tidy(schema, {})}
        self._parameters = frozenset(struct.__name__ for struct in parameters)

    @property
    def schemas(self) -> dict[str, Any]:
        """Every schema that is referred to, in order of name."""
        kept = sorted(self._named.keys() - self._parameters)
        return {name: self._named[name] for name in kept}

    def schema(self, kind: Any) -> dict[str, Any]:
        """Return the schema of a type given at the beginning."""
        if kind is str:
            return {"type": "string"}
        if kind is dict:
            return {"type": "object"}
        made: dict[str, Any] = self._made[self._types.index(kind)]
        return made

    def parameters_of(self, query: type[Struct]) -> dict[str, Any]:
        """Return the schema of a struct of parameters."""
        if not query.__struct_fields__:
            return {"properties": {}}
        named: dict[str, Any] = self._named[query.__name__]
        return named


def _told_apart(made: Any, named: Mapping[str, Any]) -> tuple[Any, dict[str, Any]]:
    """Give structs of one name in several modules names that generated clients can use.

    What is posted or stored keeps the plain name, for it was there first; of the others, `Batch`
    of the module `trial` is told as `TrialBatch`.
    """
    names = {}
    for long in (name for name in named if "." in name):
        module, _, plain = long.rpartition(".")
        is_fact = module.startswith(("coatledger.events.", "coatledger.ledger."))
        names[long] = plain if is_fact else module.rpartition(".")[2].title() + plain
    assert len({*named, *names.values()}) == len(named) + len(names), names

    def renamed(value: Any) -> Any:
        if isinstance(value, list | tuple):
            return [renamed(item) for item in value]
        if isinstance(value, Mapping):
            return {key: renamed(item) for key, item in value.items()}
        if isinstance(value, str) and value.startswith(_PLACE):
            name = value.removeprefix(_PLACE)
            return _PLACE + names.get(name, name)
        return value

    told = {names.get(name, name): renamed(schema) for name, schema in named.items()}
    for name in names.values():
        told[name]["title"] = name
    return renamed(made), told


def _tidy(schema: Any, unions: Mapping[tuple[str, ...], str]) -> Any:
    if isinstance(schema, list | tuple):
        return [_tidy(item, unions) for item in schema]
    if not isinstance(schema, Mapping):
        return schema
    if "discriminator" in schema:
        name = unions.get(tuple(one.get("$ref", "") for one in schema["anyOf"]))
        if name is not None:
            return {"$ref": REF.format(name=name)}
    tidy = {key: _tidy(value, unions) for key, value in schema.items()}
    if "discriminator" in tidy:
        tidy = {"oneOf": tidy.pop("anyOf"), **tidy}
    for bound in ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"):
        value = tidy.get(bound)
        if isinstance(value, float) and value.is_integer():
            tidy[bound] = int(value)
    if "default" in tidy and tidy["default"] in (None, ""):
        del tidy["default"]
    if isinstance(tidy.get("description"), str):
        tidy["description"] = inspect.cleandoc(tidy["description"])
    return tidy
