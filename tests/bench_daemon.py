"""A daemon of a shop folder that benches start, ask over its socket, watch in `/proc`, and end by its process id."""

import json
import os
import pathlib
import signal
import socket
import subprocess
import time


class Shop:
    """A shop folder with a state directory of its own and, between `start` and `stop`, a daemon."""

    def __init__(self, program, folder, state):
        self.program, self.folder, self.state = str(program), pathlib.Path(folder), pathlib.Path(state)
        self.env = dict(os.environ, TAPERBOOK_FOLDER=str(folder), TAPERBOOK_STATE=str(state), NO_COLOR="1")
        self.daemon = None

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.stop()

    def spawn(self):
        """Starts the daemon and does not wait for anything."""
        self.where = None
        self.begun = time.perf_counter()
        self.daemon = subprocess.Popen(
            [self.program, "watch", str(self.folder)], env=self.env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def start(self):
        """Starts it and waits until everything is searchable and worked out; gives the seconds that took."""
        self.spawn()
        return self.wait_for(lambda status: status["state"] != "scanning" and not status["pending"] and status["records"])

    def wait_for(self, test, patience=None, pause=0.005):
        """Seconds from the start until a status passes a test; `None` when it has not after so many seconds.

        Asking takes some of the cores that the daemon would have, so it is not asked all the time.
        """
        while True:
            status = self.status()
            took = time.perf_counter() - self.begun
            if status and test(status):
                return took
            if patience is not None and patience < took:
                return None
            time.sleep(pause)

    def status(self):
        """The status now, without a fence; `None` while nobody answers."""
        if self.daemon.poll() is not None:
            raise SystemExit(f"the daemon has ended with {self.daemon.returncode}")
        try:
            return self.ask({"ask": "status"}, fence=False)[0].get("answer")
        except (OSError, StopIteration, ValueError):
            return None

    def ask(self, request, fence=True):
        """One question over the socket; gives the reply and what it took, in milliseconds."""
        if self.where is None:
            self.where = pathlib.Path(next(self.state.rglob("socket-at")).read_text().strip())
        start = time.perf_counter()
        with socket.socket(socket.AF_UNIX) as wire:
            wire.connect(str(self.where))
            wire.sendall(json.dumps({"fence": fence, "request": request}).encode() + b"\n")
            answer = b""
            while not answer.endswith(b"\n"):
                part = wire.recv(1 << 16)
                if not part:
                    raise ConnectionError("the daemon has gone")
                answer += part
        return json.loads(answer), (time.perf_counter() - start) * 1e3

    def find(self, query, fence=True):
        """The answer to a query."""
        reply, _ = self.ask({"ask": "find", "query": query, "limit": 20}, fence)
        if "answer" not in reply or "total" not in reply["answer"]:
            raise SystemExit(f"`{query}` gave {reply}")
        return reply["answer"]

    def stop(self):
        """Ends it by its id and waits; harmless when it has ended."""
        if self.daemon is not None and self.daemon.poll() is None:
            self.daemon.send_signal(signal.SIGTERM)
            self.daemon.wait()
        self.daemon = None

    def memory(self):
        """Megabytes: resident, resident at most, and of the first what is its own and not the program's file."""
        text = pathlib.Path(f"/proc/{self.daemon.pid}/status").read_text()
        return [int(text.split(key + ":")[1].split()[0]) / 1024 for key in ("VmRSS", "VmHWM", "RssAnon")]

    def wait_until_renewed(self, patience=60):
        """Seconds until the daemon has begun anew after its first look, as it does where that was long; None where not."""
        begun = time.monotonic()
        while time.monotonic() - begun < patience:
            if b"TAPERBOOK_LEFT_BY=" in pathlib.Path(f"/proc/{self.daemon.pid}/environ").read_bytes():
                return time.monotonic() - begun
            time.sleep(0.1)
        return None

    def threads(self):
        """The name of each thread by its id."""
        tasks = pathlib.Path(f"/proc/{self.daemon.pid}/task").iterdir()
        return {task.name: task.joinpath("comm").read_text().strip() for task in tasks}

    def work(self):
        """Seconds of processor time since the start, and by thread how often it woke up.

        A thread that had no work for a while ends; its time counts, its wake-ups are no longer known.
        """
        place = pathlib.Path(f"/proc/{self.daemon.pid}")
        spent = place.joinpath("stat").read_text().rpartition(")")[2].split()
        seconds = (int(spent[11]) + int(spent[12])) / os.sysconf("SC_CLK_TCK")
        wakes = {}
        for task in place.joinpath("task").iterdir():
            words = task.joinpath("status").read_text().split("\nvoluntary_ctxt_switches:")
            wakes[task.name] = int(words[1].split()[0])
        return seconds, wakes
