"""What an instrument hears, cut into the questions that it knows.

Pure; used by ``player``. What is unknown goes unanswered.
"""

from logger.virtual.lines.printed import Printer

_MOST_BYTES = 512
_MODBUS_BYTES = 8


class Questions:
    """Keeps what was heard of a question that is not whole yet.

    Parameters
    ----------
    printer : Printer
        Knows which questions have an answer.
    """

    def __init__(self, printer: Printer) -> None:
        self._printer = printer
        self._heard = b""

    def clear(self) -> None:
        """Forget what was heard."""
        self._heard = b""

    def take(self, heard: bytes, number: int) -> list[bytes]:
        """Return the questions that are whole now.

        Parameters
        ----------
        heard : bytes
            What came since.
        number : int
            Of the sample under way.
        """
        self._heard = (self._heard + heard)[-_MOST_BYTES:]
        shape = self._printer.shape
        if shape.decode == "modbus":
            return self._modbus(number)
        end = b"\n" if shape.ask == "none" or shape.ask.send.endswith("\n") else b"\r"
        *whole, self._heard = self._heard.split(end)
        return [part + end for part in whole]

    def _modbus(self, number: int) -> list[bytes]:
        found = []
        while len(self._heard) >= _MODBUS_BYTES:
            question = self._heard[:_MODBUS_BYTES]
            if self._printer.reply(question, number):
                found.append(question)
                self._heard = self._heard[_MODBUS_BYTES:]
            else:
                self._heard = self._heard[1:]
        return found
