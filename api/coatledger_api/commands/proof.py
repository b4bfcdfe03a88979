"""`coatledger proof`: fetch the proof pack of a piece into a file, checked on the way in."""

from pathlib import Path
from urllib.parse import quote

import click
import msgspec
from coatledger.answers.proof import told_faults
from coatledger.computations.signed_note import key_of
from coatledger.ledger.pack import pack_of
from coatledger.ledger.pack_check import check_pack
from coatledger_adapters.signing import verify

from coatledger_api.commands.reach import Failed, Service, place_of, reaching
from coatledger_api.commands.shown import count, say
from coatledger_api.routes.proofs import SignedHead


@click.command("proof")
@click.argument("word")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), required=False)
@reaching
def command(word: str, file: Path | None, url: str | None, key: str | None) -> None:
    """Write everything that happened to the piece WORD, with its proof, to FILE.

    Without FILE it is WORD.proof.json in this folder. Give the file to whoever wants to check it,
    and by another way the public key that is said here; `coatledger verify` needs no more.
    """
    with Service(place_of(url, key)) as service:
        data = service.get(f"/v1/pieces/{quote(word, safe='')}/proof")
        head = msgspec.json.decode(service.get("/v1/checkpoint"), type=SignedHead)
    pack = pack_of(data)
    verdict = check_pack(data, pack, key_of(head.key), verify)
    faults = (*verdict.faults, *told_faults(pack))
    if faults:
        raise Failed(f"The service's pack does not hold: {faults[0]}.")
    path = file or Path(f"{word}.proof.json")
    path.write_bytes(data)
    say(f"{path}: {count(len(pack.leaves), 'event')}, proven under {pack.shop}'s signed head.")
    say(f"Public key: {head.key}")
