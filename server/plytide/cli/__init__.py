"""The `plytide` command. Each command stands with its options; what a command needs is loaded when it runs."""

from __future__ import annotations

import os
from collections.abc import Sequence

import click

from plytide.cli import clinic, engine, files, staff
from plytide.cli.options import Wrong

COMMANDS = (
    *(clinic.demo, clinic.serve, clinic.init),
    *(staff.staff, staff.password_link, staff.unlock),
    *(engine.assess, engine.evaluate),
    *(files.backup, files.restore, files.key, files.encrypt, files.decrypt, files.rekey, files.rebuild, files.check),
)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
def plytide() -> None:
    """From sock counts to a prosthetist's worklist."""


for command in COMMANDS:
    plytide.add_command(command)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit code. Never ends the process itself."""
    before = os.umask(0o077)  # what any command writes, copies and logs of databases too, is its owner's alone
    try:
        return plytide.main(list(argv) if argv is not None else None, "plytide", standalone_mode=False) or 0
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except click.Abort:
        return 1
    except Exception as error:
        if not is_for_the_operator(error):
            raise
        Wrong(str(error)).show()
        return Wrong.exit_code
    finally:
        os.umask(before)


def is_for_the_operator(error: Exception) -> bool:
    """Whether its words say what was wrong and what to do: then nobody needs a trace."""
    from plytide.storage.clinics import Unavailable
    from plytide.storage.files.backup import BackupFault
    from plytide.storage.files.encryption import ConversionFault
    from plytide.storage.files.keys import KeyFault
    from plytide.storage.files.lock import InUse
    from plytide.storage.registry.lost import RegistryLost
    from plytide.storage.registry.rebuild import StillThere
    from plytide.storage.sqlite import NoRoom, Unreadable

    told = (
        ConversionFault | BackupFault | InUse | KeyFault | NoRoom | Unavailable | RegistryLost | StillThere | Unreadable
    )
    return isinstance(error, told)
