"""A client of language servers over stdio, for checks against others' models and for measuring."""

import json
import queue
import subprocess
import threading


class Client:
    def __init__(self, keyon, cwd=None):
        """`keyon`: our program, or the whole command of another server."""
        command = [keyon, "lsp"] if isinstance(keyon, str) else keyon
        self.process = subprocess.Popen(command, cwd=cwd, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        self.messages = queue.Queue()
        self.settings = None  # what a server hears that asks for its settings
        self.number = 0
        self.sent = []      # every message that we sent
        self.received = []  # and that came
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self):
        out = self.process.stdout
        while True:
            length = 0
            while True:
                line = out.readline()
                if not line:
                    self.messages.put(None)
                    return
                if line == b"\r\n":
                    break
                name, _, value = line.decode().partition(":")
                if name.lower() == "content-length":
                    length = int(value)
            content = out.read(length)
            if len(content) < length:  # it was killed within a message
                self.messages.put(None)
                return
            self.messages.put(json.loads(content))

    def raw(self, data):
        self.process.stdin.write(data)
        self.process.stdin.flush()

    def send(self, message):
        self.sent.append(message)
        body = json.dumps(message).encode()
        self.raw(b"Content-Length: %d\r\n\r\n" % len(body) + body)

    def notify(self, method, params):
        self.send({"jsonrpc": "2.0", "method": method, "params": params})

    def request(self, method, params):
        self.number += 1
        self.send({"jsonrpc": "2.0", "id": self.number, "method": method, "params": params})
        return self.number

    def wait(self, fits, timeout=60):
        """The next message that fits; requests of the server's are answered."""
        while True:
            message = self.messages.get(timeout=timeout)
            if message is None:
                raise EOFError("the server has ended")
            self.received.append(message)
            if "method" in message and "id" in message:
                # Of settings an answer for each that is asked for.
                items = message["params"]["items"] if message["method"] == "workspace/configuration" else None
                self.send({"jsonrpc": "2.0", "id": message["id"], "result": items and [self.settings] * len(items)})
            if fits(message):
                return message

    def ask(self, method, params, timeout=60):
        number = self.request(method, params)
        return self.wait(lambda m: m.get("id") == number and "method" not in m, timeout)

    def diagnostics(self, uri, version, timeout=120):
        fits = lambda m: m.get("method") == "textDocument/publishDiagnostics" and m["params"]["uri"] == uri and m["params"].get("version") == version
        return self.wait(fits, timeout)["params"]["diagnostics"]

    def initialize(self, **options):
        capabilities = options.pop("capabilities", {})
        answer = self.ask("initialize", {"processId": None, "rootUri": None, "capabilities": capabilities, **options})
        self.notify("initialized", {})
        return answer["result"]["capabilities"]

    def open(self, uri, text, version=1):
        self.notify("textDocument/didOpen", {"textDocument": {"uri": uri, "languageId": "keyon", "version": version, "text": text}})

    def end(self):
        self.ask("shutdown", None)
        self.notify("exit", None)
        return self.process.wait(timeout=30)
