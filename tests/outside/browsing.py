"""A browser that is told what to do through a pipe (the DevTools protocol), so that a page is tried as it is, in real time."""

import json
import os
import shutil
import subprocess
import tempfile


class Browser:
    """Chromium without a window. `with Browser() as browser: browser.open(address)`."""

    def __enter__(self):
        program = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser") or "chromium"
        # Its helpers may write for a moment after it has ended.
        self.home = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        hear, self.say = os.pipe()
        self.hear, tell = os.pipe()
        command = [program, "--headless", "--no-sandbox", "--disable-gpu", "--mute-audio", "--hide-scrollbars",
                   f"--user-data-dir={self.home.name}", "--remote-debugging-pipe", "about:blank"]

        # The browser reads what it is told from descriptor 3, and answers on 4.
        def ends():
            kept = os.dup(hear), os.dup(tell)
            os.dup2(kept[0], 3)
            os.dup2(kept[1], 4)

        self.process = subprocess.Popen(command, preexec_fn=ends, close_fds=False, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                        stderr=subprocess.DEVNULL)
        os.close(hear)
        os.close(tell)
        self.number, self.rest, self.events, self.session = 0, b"", [], None
        targets = self.ask("Target.getTargets")["targetInfos"]
        page = next(target["targetId"] for target in targets if target["type"] == "page")
        self.session = self.ask("Target.attachToTarget", targetId=page, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.ask(f"{domain}.enable")
        return self

    def __exit__(self, *_):
        self.process.terminate()
        self.process.wait(timeout=60)
        os.close(self.say)
        os.close(self.hear)
        self.home.cleanup()

    def message(self):
        while b"\0" not in self.rest:
            read = os.read(self.hear, 1 << 16)
            if not read:
                raise EOFError("the browser is gone")
            self.rest += read
        whole, self.rest = self.rest.split(b"\0", 1)
        return json.loads(whole)

    def ask(self, method, **parameters):
        self.number += 1
        call = {"id": self.number, "method": method, "params": parameters}
        if self.session:
            call["sessionId"] = self.session
        os.write(self.say, json.dumps(call).encode() + b"\0")
        while True:
            message = self.message()
            if message.get("id") != self.number:
                self.events.append(message)
            elif "error" in message:
                raise ValueError(f"{method}: {message['error']['message']}")
            else:
                return message["result"]

    def open(self, address):
        self.ask("Page.navigate", url=address)
        while not any(event["method"] == "Page.loadEventFired" for event in self.events):
            self.events.append(self.message())

    def run(self, script):
        """What a script gives back; a promise is waited for. As if a person had pressed something."""
        done = self.ask("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True, userGesture=True)
        if "exceptionDetails" in done:
            raise ValueError(done["exceptionDetails"]["exception"].get("description", "an exception"))
        return done["result"].get("value")

    def screen(self, width, height, dark=False):
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 500)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.ask("Emulation.setEmulatedMedia", features=[scheme])

    def picture(self):
        return self.ask("Page.captureScreenshot", captureBeyondViewport=True)["data"]

    def console(self):
        """Everything that was told on the console so far."""
        told = []
        for event in self.events:
            parameters = event.get("params", {})
            if event["method"] == "Log.entryAdded":
                told.append(parameters["entry"]["text"])
            elif event["method"] == "Runtime.exceptionThrown":
                told.append(str(parameters["exceptionDetails"].get("exception", {}).get("description", "an exception")))
            elif event["method"] == "Runtime.consoleAPICalled":
                told.append(" ".join(str(argument.get("value")) for argument in parameters["args"]))
        return told

    def requests(self):
        sent = [event for event in self.events if event["method"] == "Network.requestWillBeSent"]
        return [event["params"]["request"]["url"] for event in sent]
