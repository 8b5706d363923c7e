"""What may be asked of an instrument that nobody knows yet, and what is never sent to one.

Pure data. A question of a line format goes to a stranger only when it reads and does nothing else;
what is listed in `NEVER` tares, zeroes, prints, sets, starts or switches something on some
instrument, whatever it does on the one that the format was written for. Used by ``ports.listen``.
"""

NEVER = frozenset({
    "T", "TA", "TI", "TAC", "TARE", "TR", "PT", "Z", "ZI", "ZERO", "R", "RZ", "REZERO", "P", "PRT",
    "PRINT", "PR", "C", "CAL", "CAL0", "CAL1", "ADJ", "U", "UNIT", "MODE", "ON", "OFF", "O", "F",
    "K", "M", "N", "A", "B", "D", "E", "RESET", "RST", "@", "DAT", "TIM", "SET", "STOP", "START",
    "SAVE", "LOCK",
})  # fmt: skip
"""Whole questions, in capitals, that are never sent to a stranger. Common practice, no source."""
NEVER_WORDS = ("OUT_", "START_", "STOP_", "RESET", "SYST", "CONF", "CAL", "*RST", "*SAV", "*RCL")
"""Beginnings of commands that change something (NAMUR names and SCPI subsystems, from memory)."""


def may_be_asked(question: str) -> bool:
    """Return whether a question only reads, so that a stranger may be asked it."""
    text = question.strip().strip("\x1b\x05").upper()
    if not text or text in NEVER or text.startswith(NEVER_WORDS):
        return False
    return text.endswith("?") or not any(sign in text for sign in "=:;")
