"""A keyboard in a process of its own: sends MIDI to a JACK port, and logs what it sends.

    sender.py CLIENT TARGET LOG file PATH SPEED      a MIDI file
    sender.py CLIENT TARGET LOG flood COUNT RATE     notes on and off, so many messages, so many a second
    sender.py CLIENT TARGET LOG hold PITCH ...       strikes the keys, and holds them; again with each SIGUSR1
    sender.py CLIENT TARGET LOG odd                  whatever else comes down a wire

TARGET is an input port that it connects to, or "-": then it makes an output that others can connect to, and
waits for SIGUSR1 before it sends. Each message stands in LOG, in hexadecimal, before it is sent.
"""

from __future__ import annotations

import signal
import sys
import time

import mido

try:
    import rtmidi
except ImportError:
    import rtmidi2

ODD = (
    *([[0xF8]] * 500),
    *([[0xFE]] * 50),
    [0xF0, *([1] * 2_000), 0xF7],
    [0x90, 69, 64],
    [0x90, 69, 0],
    [0x80, 50, 0],
    [0xE0, 1, 2],
    [0xD0, 5],
    [0xB0, 64, 127],
    *([0x90 | channel, 40 + channel, 64] for channel in range(16)),
    *([0xB0 | channel, 123, 0] for channel in range(16)),
    [0xFF],
)


class Output:
    """An output of the library that is there."""

    def __init__(self, client: str) -> None:
        if "rtmidi" in globals():
            midi = self.midi = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name=client)
            self.names, self.send = midi.get_ports, midi.send_message
            self.end = midi.delete  # a client that does not say goodbye holds up the server for five seconds
        else:
            midi = self.midi = rtmidi2.MidiOut(client, api=rtmidi2.API_UNIX_JACK)
            self.names = lambda: midi.ports
            self.send = lambda data: midi.send_raw(*data)
            self.end = midi.close_port


def main(client: str, target: str, log: str, what: str, *arguments: str) -> None:
    signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGUSR1])
    output = Output(client)
    if target == "-":
        output.midi.open_virtual_port("out")
        signal.sigwait([signal.SIGUSR1])
    else:
        output.midi.open_port(output.names().index(target))
    time.sleep(0.3)
    with open(log, "a", encoding="ascii", buffering=1) as file:

        def send(data: list[int]) -> None:
            file.write(bytes(data).hex() + "\n")
            output.send(data)

        if what == "file":
            path, speed = arguments
            start = time.monotonic()
            at = 0.0
            for message in mido.MidiFile(path):
                at += message.time / float(speed)
                if not message.is_meta:
                    time.sleep(max(start + at - time.monotonic(), 0))
                    send(message.bytes())
        elif what == "flood":
            count, rate = int(arguments[0]), float(arguments[1])
            start = time.monotonic()
            for number in range(count):
                time.sleep(max(start + number / rate - time.monotonic(), 0))
                pitch = 48 + number // 2 % 30
                send([0x80 if number % 2 else 0x90, pitch, 64])
        elif what == "hold":
            while True:
                for pitch in arguments:
                    send([0x90, int(pitch), 64])
                if signal.sigtimedwait([signal.SIGUSR1], 600) is None:
                    break
                for pitch in arguments:
                    send([0x80, int(pitch), 64])
        elif what == "odd":
            for message in ODD:
                send(list(message))
                time.sleep(0.0005)
        else:
            raise ValueError(what)
        time.sleep(0.3)
    output.end()


if __name__ == "__main__":
    main(*sys.argv[1:])
