"""A QR code as a drawing: the address of a sheet on the page of this network.

Pure; an address in, SVG out. A token never goes onto paper: the page asks for it.

References
----------
ISO/IEC 18004:2024, QR code bar code symbology specification (by the library segno); four light
modules around it are its quiet zone.
"""

import io
from urllib.parse import quote, urlsplit

from logger.model.errors import InputError


def sheet_address(page: str, name: str) -> str:
    """Return the address of a saved sheet on the page.

    Parameters
    ----------
    page : str
        Address of the page, such as ``http://192.168.1.20:8420/``.
    name : str
        Of the sheet.

    Raises
    ------
    InputError
        If that is no address of a page, or carries more than where it is.
    """
    parts = urlsplit(page)
    if parts.scheme not in ("http", "https") or not parts.hostname:
        found = "is no address of a page"
        raise InputError(
            "--page", f"{page!r} {found}", "write for example http://192.168.1.20:8420"
        )
    if parts.query or parts.fragment or parts.username or parts.path.strip("/"):
        bare = f"{parts.scheme}://{parts.hostname}" + (f":{parts.port}" if parts.port else "")
        raise InputError("--page", "carries more than where the page is", f"write {bare}")
    return f"{parts.scheme}://{parts.netloc}/sheets?sheet={quote(name)}"


def code_svg(address: str) -> str:
    """Return a QR code of an address, error correction M, as SVG with its quiet zone."""
    # Here, because every process that may need it would pay for it at its start.
    import segno

    drawn = io.BytesIO()
    segno.make(address, error="m", micro=False).save(drawn, kind="svg", border=4, xmldecl=False)
    return drawn.getvalue().decode()
