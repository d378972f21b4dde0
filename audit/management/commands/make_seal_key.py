"""Make the key that signs this installation's binders, or take the organisation's own.

The key is kept in the folder "seal" of the data folder, readable by its owner alone, without a pass phrase, so that
the program can sign by itself. Back it up with the data. Where STANDING_SEAL_MODULE names a PKCS#11 module, it is
made in that token, stays there, and only its certificate is kept here.

A certificate made here is vouched for by nobody else: it proves that a binder is unchanged since this installation
signed it, not to a stranger who runs the installation.
"""

from __future__ import annotations

import getpass
import os
import sys
from pathlib import Path

from audit.issue.seal import keys, token_key
from audit.issue.seal.take import LARGEST, certificates, take
from audit.management import options as o
from records import clock

PASS_PHRASE = "STANDING_SEAL_PASSPHRASE"


class Command(o.Command):
    help = __doc__

    def add_arguments(self, parser):
        parser.add_argument("--name", help="name of the organisation, as it is to stand in the certificate")
        parser.add_argument(
            "--years", type=int, default=keys.YEARS, help=f"how long the certificate is valid ({keys.YEARS})"
        )
        parser.add_argument(
            "--take", type=Path, metavar="FILE.p12",
            help="take the organisation's own key and certificates from a PKCS#12 file; its pass phrase is asked "
            f"for, or taken from the environment variable {PASS_PHRASE}",
        )  # fmt: skip
        parser.add_argument(
            "--certificate", type=Path, metavar="FILE.pem",
            help="take the certificate, and those above it, that was issued for the key in the token (PEM)",
        )  # fmt: skip
        parser.add_argument(
            "--replace", action="store_true",
            help="destroy the key there is, unless it is in a token; its certificate stays known, so binders signed "
            "with it stay ours",
        )  # fmt: skip

        parser.add_argument(
            "--lock", action="store_true",
            help=f"keep the key there is under the pass phrase in {keys.PASS_PHRASE}, as every new one",
        )  # fmt: skip

    def handle(self, *args, **options):
        try:
            seal = self._seal(options)
        except keys.KeyRefused as error:
            o.refuse(self, o.BadInput(str(error)))
        except o.BadInput as error:
            o.refuse(self, error)
        certificate = seal.certificate
        self._say_where(seal)
        self.stdout.write(f"Certificate of {keys.name_in(certificate.subject)}")
        self.stdout.write(
            f"issued by {keys.name_in(certificate.issuer)}, valid to {certificate.not_valid_after_utc:%Y-%m-%d}"
        )
        self.stdout.write(f"SHA-256 {seal.fingerprint}")
        own = certificate.subject == certificate.issuer
        if own:
            self.stdout.write(
                "Nobody else vouches for it. Tell the fingerprint to whoever asks, by a way they trust: it is how a "
                "stranger knows that a binder came from you."
            )
        elif not seal.chain:
            self.stdout.write(
                "The file held no certificate of its issuer: readers that do not have it cannot trust it."
            )
        o.end(self, 0)

    def _say_where(self, seal: keys.Seal) -> None:
        if not isinstance(seal.key, token_key.TokenKey):
            self.stdout.write(f"{keys.folder() / keys.KEY_FILE}: binders are signed with this key from now on.")
            return
        self.stdout.write(f"Binders are signed with {seal.key} from now on.")
        self.stdout.write(f"{keys.folder() / keys.TOKEN_FILE}: its certificate. No backup holds the key itself.")
        if (keys.folder() / keys.KEY_FILE).exists():
            self.stdout.write(
                f"{keys.folder() / keys.KEY_FILE}: the key of before is no longer used. Delete it, and what copies "
                "of it there are; its certificate stays known."
            )

    def _seal(self, options) -> keys.Seal:
        if options["certificate"] is not None:
            if options["name"] or options["take"] or options["lock"]:
                raise o.BadInput("--certificate is for a key that is in a token. Leave the other options out.")
            return self._certified(options["certificate"], options["replace"])
        if options["lock"]:
            if options["name"] or options["take"] or options["replace"]:
                raise o.BadInput("--lock is about the key there is. Leave the other options out.")
            return keys.lock()
        if options["take"] is not None:
            if options["name"]:
                raise o.BadInput(
                    "--name is for a new key; one that is taken has its name already. Leave out one of them."
                )
            return self._taken(options["take"], options["replace"])
        if not options["name"]:
            raise o.BadInput(
                'Say whose key it is: --name "NAME OF THE ORGANISATION", or --take FILE.p12 for one issued to it.'
            )
        return keys.make_key(options["name"], clock.now(), years=options["years"], replace=options["replace"])

    def _certified(self, path: Path, replace: bool) -> keys.Seal:
        content = _read("--certificate", path, "is no certificate (.pem)", "Name the file that was issued.")
        keys.refuse_second(replace)
        return keys.install(keys.of_token(certificates(content, clock.now())), replace=replace)

    def _taken(self, path: Path, replace: bool) -> keys.Seal:
        if token_key.is_set():
            raise o.BadInput(
                f"--take puts a key into a file, and {token_key.MODULE} says that it is in a token. Put it into the "
                "token with the token's own tools, then take its certificate: --certificate FILE.pem."
            )
        content = _read("--take", path, "is not a PKCS#12 file (.p12 or .pfx)", "Name the organisation's .p12 file.")
        keys.refuse_second(replace)  # before the pass phrase is asked for
        return keys.install(take(content, _pass_phrase(), clock.now()), replace=replace)


def _read(option: str, path: Path, too_large: str, way_out: str) -> bytes:
    try:
        if path.stat().st_size > LARGEST:
            raise o.BadInput(f"{option} {path}: a file this large {too_large}.")
        return path.read_bytes()
    except OSError as error:
        raise o.BadInput(f"{option} {path} cannot be read: {error.strerror}. {way_out}") from None


def _pass_phrase() -> str:
    if PASS_PHRASE in os.environ:
        return os.environ[PASS_PHRASE]
    if not sys.stdin.isatty():
        raise o.BadInput(f"The file has a pass phrase and nobody can be asked: set {PASS_PHRASE} in the environment.")
    return getpass.getpass("Pass phrase of the file: ")
