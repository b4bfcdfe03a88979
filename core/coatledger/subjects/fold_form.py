"""What the stored folds of a ledger are made by, as one short word.

It changes with the version of any fold and with the form of any state. A ledger whose folds were
made by something else is not used before they are worked out again; so a forgotten version number
cannot make an old state be read as a new one. What only explains a form, such as its description,
does not change it.
"""

from hashlib import sha256
from typing import Any, Final

import msgspec

from coatledger.subjects.registry import FOLDS

_WORDS_ONLY: Final = frozenset({"description", "title", "examples"})


def made_by() -> str:
    """Return the word for this program's folds."""
    schemas, parts = msgspec.json.schema_components(
        [FOLDS[kind].state for kind in sorted(FOLDS)], ref_template="{name}"
    )
    versions = [f"{kind}:{FOLDS[kind].version}" for kind in sorted(FOLDS)]
    form = msgspec.json.encode([versions, _bare(schemas), _bare(parts)], order="deterministic")
    return sha256(form).hexdigest()[:16]


def _bare(schema: Any) -> Any:
    """Leave out what is only said about a form."""
    if isinstance(schema, dict):
        return {key: _bare(value) for key, value in schema.items() if key not in _WORDS_ONLY}
    if isinstance(schema, (list, tuple)):
        return [_bare(value) for value in schema]
    return schema
