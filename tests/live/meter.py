#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A simulated bench meter on loopback TCP, spoken to through libsigrok's own driver.

    meter.py PORT CAPTURE.csv CHANNEL [--unplug FROM UNTIL]...

Plays one channel of a rehearsed capture in real time, from the time METER_START (seconds of the
monotonic clock, so that several begin together) or from the first question on: answers the questions
of a SCPI multimeter. `--unplug` closes the connection for a while."""
import csv
import os
import socket
import sys
import time

# The identification one of libsigrok's drivers demands.
IDENTITY = "HEWLETT-PACKARD,34401A,0,10-5-2"


def main():
    port, capture, channel = int(sys.argv[1]), sys.argv[2], sys.argv[3]
    absences = []
    rest = sys.argv[4:]
    while rest:
        absences.append((float(rest[1]), float(rest[2])))
        rest = rest[3:]
    rows = list(csv.reader(line for line in open(capture) if line[0] not in "#;"))
    column = [name.split(" [")[0] for name in rows[0]].index(channel)
    times = [float(row[0]) for row in rows[1:]]
    values = [float(row[column]) for row in rows[1:]]
    period = times[1] - times[0]
    kind = {"a": "CURR", "v": "VOLT"}.get(channel.rsplit("_", 1)[-1], "VOLT")
    server = socket.create_server(("127.0.0.1", port))
    start = float(os.environ["METER_START"]) if "METER_START" in os.environ else None
    while True:
        client, _ = server.accept()
        client.settimeout(0.05)
        pending = b""
        while True:
            now = time.monotonic() - start if start else 0
            away = next((until for since, until in absences if since <= now < until), None)
            if away is not None:
                client.close()
                server.close()
                time.sleep(away - now)
                server = socket.create_server(("127.0.0.1", port))
                break
            try:
                data = client.recv(4096)
            except socket.timeout:
                continue
            except OSError:
                break
            if not data:
                break
            pending += data
            while b"\n" in pending:
                line, pending = pending.split(b"\n", 1)
                question = line.decode().strip()
                if question.startswith("*IDN?"):
                    answer = IDENTITY
                elif question.startswith("*OPC?"):
                    answer = "1"
                elif question.startswith("CONF?"):
                    answer = f'"{kind} +1.000000E+02,+1.000000E-06"'
                elif question.startswith(("READ?", "FETC?", "MEAS")):
                    start = start or time.monotonic()
                    time.sleep(0.05)  # an integration time
                    index = max(0, int((time.monotonic() - start) / period))
                    answer = f"{values[min(index, len(values) - 1)]:+.8E}"
                elif "?" in question:
                    answer = "0"
                else:
                    continue
                try:
                    client.sendall((answer + "\n").encode())
                except OSError:
                    break


if __name__ == "__main__":
    main()
