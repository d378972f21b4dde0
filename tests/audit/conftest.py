"""What tests of commands share."""

from __future__ import annotations

import pytest
from django.core.management import call_command


@pytest.fixture
def command(capsys):
    """Run a command: its exit status, output and error output."""

    def run(name, *args):
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            call_command(name, *(str(arg) for arg in args))
        out, err = capsys.readouterr()
        return end.value.code, out, err

    return run
