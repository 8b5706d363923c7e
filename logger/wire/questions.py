"""How to meet an instrument that nobody knows: settings to try, questions, what is never sent.

Pure data. A question of a line format goes to a stranger only when it reads and does nothing else;
what is listed in `NEVER` tares, zeroes, prints, sets, starts or switches something on some
instrument, whatever it does on the one that the format was written for. Used by ``ports.finding``.
"""

SETTINGS: tuple[tuple[int, int, str], ...] = (
    (9600, 8, "N"), (115200, 8, "N"), (9600, 7, "E"), (19200, 8, "N"), (2400, 7, "E"),
    (4800, 8, "N"), (19200, 8, "E"), (2400, 8, "N"), (38400, 8, "N"), (57600, 8, "N"),
    (4800, 7, "E"), (1200, 7, "O"), (9600, 7, "O"), (1200, 8, "N"), (19200, 7, "E"),
)  # fmt: skip
"""Baud, data bits and parity in use, the usual ones first; common practice, no source."""
USUAL = 6
"""How many of them are listened to before anything else."""
ASKED = (
    (9600, 8, "N"), (9600, 7, "E"), (2400, 7, "E"), (19200, 8, "N"), (4800, 8, "N"),
)  # fmt: skip
"""Settings at which a silent port is asked every question; common practice, no source."""
REGISTERS = (
    (9600, 8, "N"), (19200, 8, "E"), (9600, 8, "E"), (19200, 8, "N"), (115200, 8, "N"),
)  # fmt: skip
"""Settings of devices with registers. MODBUS over Serial Line V1.02, section 2.5.1: 19200 with even
parity is the default, 9600 must be there; the others common practice, no source."""
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


def bytes_may_be_sent(frame: bytes) -> bool:
    """Return whether no byte of a binary question is by itself a command that is never sent."""
    return not any(chr(byte).upper() in NEVER for byte in frame)
