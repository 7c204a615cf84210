"""A controller on the host under the compiler's sanitizers, in a process of its own."""

import re
import subprocess
import tempfile
from pathlib import Path

import numpy as np

from derate.errors import SurroundingsError
from derate.firmware.build import cache_folder, find_compiler, laid_out, run_compiler
from derate.firmware.sources import Sources
from derate.firmware.target_build import ON_TARGET
from derate.firmware.walks import Inputs

CHECKS = ("-std=c99", "-O1", "-g", "-fsanitize=undefined,address", "-fno-sanitize-recover=all")
TIMEOUT_S = 60.0
NONE = "not looked at by sanitizers: the compiler of this machine comes without them"
_COMPLAINT = re.compile(r"(?:runtime error|ERROR: AddressSanitizer): (?P<what>.+)")
_PLACE = re.compile(r"#\d+ .* (?P<place>[\w./-]+\.[ch]:\d+)")
_AT = re.compile(r"(?P<place>[\w./-]+\.[ch]:\d+):\d+: runtime error")


def complaint(sources: Sources, inputs: Inputs) -> str | None:
    """What sanitizers say of a controller driven through ``inputs``, in a sentence; None: nothing.

    Raises SurroundingsError where the compiler has no sanitizers.
    """
    with tempfile.TemporaryDirectory(dir=cache_folder()) as name:
        work = Path(name)
        places = laid_out(work, sources.files, sources.headers)
        rows = np.concatenate([inputs.codes, inputs.requests], axis=1).astype("<u2")
        (work / "rows.bin").write_bytes(rows.tobytes())
        program = work / "sanitized"
        files = [str(ON_TARGET / "host_main.c"), *map(str, sources.files)]
        try:
            run_compiler(find_compiler(), [*CHECKS, *places, *files, "-o", str(program)])
        except SurroundingsError as error:
            raise SurroundingsError(NONE) from error
        shape = [str(inputs.codes.shape[1]), str(inputs.requests.shape[1])]
        try:
            done = subprocess.run(
                [str(program), str(work / "rows.bin"), *shape],
                capture_output=True,
                text=True,
                errors="replace",
                timeout=TIMEOUT_S,
            )
        except subprocess.TimeoutExpired:
            return "on the host, the controller never returned"
    return None if done.returncode == 0 else _sentence(done.stderr, done.returncode)


def _sentence(said: str, status: int) -> str:
    """The first complaint and where it was, without addresses."""
    found = _COMPLAINT.search(said)
    if found is None:
        return f"on the host, the controller ended the program with status {status}"
    what = re.sub(r" on (?:unknown )?address.*", "", found["what"]).strip()
    place = _AT.search(said) or _PLACE.search(said)
    where = f" ({Path(place['place']).name})" if place else ""
    return f"on the host under sanitizers: {what}{where}"
