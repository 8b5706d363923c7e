"""One round of Modbus questions on an open port.

pymodbus sends and waits; what comes back is taken as raw bytes and read by ``wire.modbus``, live as
on replay. The only module that knows pymodbus.
"""

import logging
from collections.abc import Callable
from typing import Any

import serial
from pymodbus import FramerType
from pymodbus.client import ModbusSerialClient
from pymodbus.exceptions import ConnectionException, ModbusIOException
from pymodbus.pdu import ModbusPDU

from logger.ports.errors import PortLostError
from logger.wire.modbus import plan_of
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import PortLine


class RegisterClient(ModbusSerialClient):
    """A client on a port that is open already; keeps what was sent and what came."""

    def __init__(
        self, port: serial.Serial, line: PortLine, shape: Shape, now_ns: Callable[[], int]
    ) -> None:
        logging.getLogger("pymodbus.logging").setLevel(logging.CRITICAL)
        super().__init__(
            str(port.port),
            framer=FramerType.ASCII if shape.transmission == "ascii" else FramerType.RTU,
            baudrate=line.baud,
            bytesize=line.bits,
            parity=line.parity,
            stopbits=line.stop,
            timeout=shape.timeout_s,
            retries=0,
            trace_packet=self._traced,
        )
        self.socket = port
        self._now_ns = now_ns
        self.sent = b""
        self.came = b""
        self.came_ns = 0

    def _traced(self, sending: bool, data: bytes) -> bytes:
        if sending:
            self.sent, self.came = data, b""
        return data

    def recv(self, size: int | None) -> bytes:
        """Receive; keep the bytes and when the last of them came."""
        data: bytes = super().recv(size)
        if data:
            self.came_ns = self._now_ns()
            self.came += data
        return data


class RegisterRound:
    """Asks an instrument for all its registers.

    Parameters
    ----------
    port : Serial
        Open; used by this thread alone.
    shape : Shape
        Of registers, with the device number to ask.
    line : PortLine
        Line settings.
    now_ns : callable
        The run's axis [ns].
    """

    def __init__(
        self, port: serial.Serial, shape: Shape, line: PortLine, now_ns: Callable[[], int]
    ) -> None:
        self._client = RegisterClient(port, line, shape, now_ns)
        self._device = shape.device
        self._plan = [request for request, _ in plan_of(shape)]

    def ask(self, number: int) -> tuple[bytes, int]:
        """Ask one of the round's questions.

        Returns
        -------
        tuple of (bytes, int)
            Question and answer as one chunk, and when the answer came [ns]; the chunk is empty when
            nothing came.

        Raises
        ------
        PortLostError
            If the port went away.
        """
        request, client = self._plan[number], self._client
        read: Callable[..., ModbusPDU] = (
            client.read_holding_registers
            if request.table == "holding"
            else client.read_input_registers
        )
        how: dict[str, Any] = {"count": request.size, "device_id": request.device or self._device}
        try:
            read(request.address, **how)
        except ConnectionException as cause:
            raise PortLostError(f"{client.comm_params.host}: lost: {cause}") from cause
        except ModbusIOException:
            pass  # no answer, or none that reads: what came is judged below
        return (client.sent + client.came if client.came else b""), client.came_ns

    @property
    def size(self) -> int:
        """How many questions a round has."""
        return len(self._plan)
