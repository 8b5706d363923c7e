"""What a server asks for as a password: from the environment, or from the system's keyring.

Found by kind and host, so that it goes to that server alone. It is kept nowhere: no bench file, run
or message has it. The keyring is asked once in the life of a program, as it may ask a person.
"""

import importlib
import logging
import os
import re
from functools import cache

log = logging.getLogger(__name__)

SERVICE = "bainlog"
"""Under which the keyring has it."""


def variable_of(what: str, host: str) -> str:
    """Return the name that a secret of a server has, in the environment and in the keyring.

    Parameters
    ----------
    what : str
        What it is, as in ``"HTTP_TOKEN"``.
    host : str
        The server: ``BAINLOG_HTTP_TOKEN_KETTLE`` for kettle, ``..._10_0_0_5`` for 10.0.0.5.
    """
    return f"BAINLOG_{what}_{re.sub(r'[^A-Z0-9]', '_', host.upper())}"


def secret_of(what: str, host: str) -> str | None:
    """Return a secret of a server; None where there is none.

    Parameters
    ----------
    what, host : str
        As `variable_of` takes them.
    """
    name = variable_of(what, host)
    return os.environ.get(name) or _in_keyring(name)


@cache
def _in_keyring(name: str) -> str | None:
    try:
        keyring = importlib.import_module("keyring")
        errors = importlib.import_module("keyring.errors")
    except ImportError:
        return None
    try:
        found: str | None = keyring.get_password(SERVICE, name)
    except errors.KeyringError as cause:
        log.warning("the keyring does not open for %s: %s", name, type(cause).__name__)
        return None
    return found
