"""Pages set by typst, from a template of the package and from what they say.

With typst's own fonts, without a network. What the pages say goes to the template as data and is
never markup.
"""

import json
from importlib.resources import files
from typing import Literal

Paper = Literal["a4", "letter"]
_PNG_PPI = 150.0


def typeset(
    package: str, template: str, page: object, paper: str, form: Literal["pdf", "png"]
) -> bytes:
    """Return a document of tagged pages, or a picture of one page.

    In the fonts of the machine, too, where a letter is in none of typst's. PDF/UA-1 (ISO 14289-1)
    admits no letter that can't be shown, so typst refuses it there; a PNG has no such rule, and
    takes both at once.

    Parameters
    ----------
    package, template : str
        Where the template is, and its file.
    page : JSON value
        What the pages say.
    paper : str
        ``a4`` (ISO 216), ``letter``, or ``one`` for all of it on a page as long as it needs.
    form : str
        ``pdf``, or ``png`` where it is one page.
    """
    # Here, because every process that may need it would pay for it at its start.
    import typst

    source = files(package).joinpath(template).read_bytes()
    said = {"page": json.dumps(page), "paper": paper}

    def made(machine: bool) -> bytes:
        fonts = typst.Fonts(include_system_fonts=machine, include_embedded_fonts=True)
        compiler = typst.Compiler(source, font_paths=fonts, sys_inputs=said)
        return _one_file(
            compiler.compile(format=form, ppi=_PNG_PPI, pdf_standards=[] if machine else "ua-1")
        )

    try:
        return made(machine=form == "png")
    except typst.TypstError:
        return made(machine=True)


def _one_file(made: bytes | list[bytes] | None) -> bytes:
    if not isinstance(made, bytes):
        raise TypeError(f"one file was wanted of typst, not {type(made).__name__}")
    return made
