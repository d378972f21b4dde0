"""`python -I -S handle.py SOCKET ARGUMENT…`: stands for a copy of the parent process, and ends as that one ends.

For programs that start processes by a command line. Signals are passed on; where this one is killed, so is the copy.
Nothing is imported here that takes long.
"""

import array
import json
import os
import signal
import socket
import struct
import sys


def ask(there: str, asked: dict, files: list) -> socket.socket:
    """The line to the parent, over which the order was sent with the three files that the copy reads and writes."""
    line = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    line.connect(there)
    order = json.dumps(asked).encode()
    line.sendmsg([struct.pack("!I", len(order))], [(socket.SOL_SOCKET, socket.SCM_RIGHTS, array.array("i", files))])
    line.sendall(order)
    return line


def main(there: str, argv: list) -> None:
    mask = os.umask(0o077)
    os.umask(mask)
    asked = {"argv": argv, "env": dict(os.environ), "cwd": os.getcwd(), "umask": mask}
    line = ask(there, asked | {"with": True}, [0, 1, 2])
    answers = line.makefile()
    pid = json.loads(answers.readline())["pid"]
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        signal.signal(number, lambda number, frame: os.kill(pid, number))
    status = json.loads(answers.readline())["status"]
    if status < 0:
        signal.signal(-status, signal.SIG_DFL) if -status != signal.SIGKILL else None
        os.kill(os.getpid(), -status)
    os._exit(status)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
