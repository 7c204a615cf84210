"""What a firmware project needs of a lamp: sources, settings, a test, and a page on their use."""

import re
from pathlib import Path
from typing import TYPE_CHECKING

from derate.firmware.build import reference_folder
from derate.firmware.link_settings import FILE_NAME as LINK_SETTINGS
from derate.firmware.link_settings import link_files, link_header
from derate.firmware.sources import Sources, sources_of
from derate.firmware.vectors import FILE_NAME, unit_test
from derate.report.firmware_words import compared_words, figure_rows, verdict
from derate.report.words import encoded
from derate.sensing.chain import chains_of

if TYPE_CHECKING:
    from derate.study.target_figures import TargetStudy

_INCLUDE = re.compile(r'^\s*#\s*include\s+"([\w./-]+)"', re.MULTILINE)
PAGE = """\
# The controller of: {lamp}

> **Caution.** This firmware helps to protect a lamp; it does not replace an independent hardware
> cut-out where failure can hurt. Intense light can injure eyes, and high-power sources need a
> photobiological assessment. Metal-core boards reach temperatures that burn. Measure before
> trusting: the settings are as good as the lamp file they came from. Local codes and licensed
> practice decide.

## Into your project

1. Add {sources} to what you compile; the headers lie beside them. C99, integers only, no heap, no
   libraries. Compiled as one unit (`-flto`, or all included into one file) it is smallest.
2. Give it memory: `static uint32_t state[{words}];` ({state} bytes), and call
   `controller_start(state)` once.
3. Every {period:g} s, from one place, call
   `controller_step(state, codes, requests_q15, duties_q15)` with
   - `codes`: {sensors}, right-aligned, in this order;
   - `requests_q15`: {channels}, 32768 = 1.0, in this order;
   - `duties_q15`: as many, to be driven as they come back.

   It returns status flags, and the limit in the high half; `derate.h` explains the flags.
4. Run the test on your target before anything else: link `{test}`, call `controller_test()`, and
   go no further unless it returns 0. On a computer:

       cc -DCONTROLLER_TEST_MAIN *.c -o controller_test && ./controller_test && echo right

## On your board, before there is a lamp

`link.c` and `link.h` are the board's end of a serial line: the computer plays the lamp, your board
runs the controller. They are of no use in the lamp; leave them out there.

    static struct link line;                       /* beside the controller's memory, state */

    link_start(&line, state, uart_send);           /* yours: sends one byte */
    for (;;) {{
        if (link_byte(&line, uart_receive())) {{     /* yours: waits for a byte */
            /* line.duties_q15 are new */
        }}
    }}

Let the lamp file say `body = "serial:/dev/ttyUSB0@115200"` and call `derate run`. The board is
asked for `LINK_IDENTITY`, and refused if it was built with other settings. `link.h` describes the
frames. Drive LEDs from these duties only with an independent cut-out, under supervision, and with
a timer that makes it dark when no step has come for two periods: the computer may stop any time.

The settings in `derate_settings.h` and `link_settings.h` are generated from the lamp file: change
the lamp file and export anew, never the headers.

## Measured

{figures}

Compared: {compared}.
Result: {verdict}.

Cycles: {timings}. Other compilers and cores give other figures.

Made by derate {version} from {file}.
"""


def export_files(study: "TargetStudy") -> dict[str, bytes]:
    """Name and bytes of each file, for one folder."""
    lamp = study.lamp
    chains = chains_of(lamp)
    sources = sources_of(lamp, chains)
    files = {file.name: file.read_bytes() for file in (*sources.files, *_headers(sources))}
    files |= {file.name: file.read_bytes() for file in link_files()}
    headers = sources.headers | {LINK_SETTINGS: link_header(lamp, chains)}
    files |= {name: encoded(text) for name, text in headers.items()}
    state = max((core.state_bytes for core in study.tried), default=0)
    files[FILE_NAME] = encoded(unit_test(lamp, chains, state))
    files["README.md"] = encoded(_page(study, sources))
    return files


def _headers(sources: Sources) -> list[Path]:
    """The headers that the sources include, and those that these include, generated ones aside."""
    folders = [*dict.fromkeys(file.parent for file in sources.files), reference_folder()]
    todo, found = list(sources.files), dict[str, Path]()
    texts = [*(file.read_text(encoding="utf-8") for file in todo), *sources.headers.values()]
    while texts:
        for name in _INCLUDE.findall(texts.pop()):
            if name in found or name in sources.headers:
                continue
            file = next((f / name for f in folders if (f / name).is_file()), None)
            if file is not None:
                found[name] = file
                texts.append(file.read_text(encoding="utf-8"))
    return list(found.values())


def _page(study: "TargetStudy", sources: Sources) -> str:
    lamp = study.lamp
    state = max((core.state_bytes for core in study.tried), default=0)
    return PAGE.format(
        lamp=lamp.name,
        sources=", ".join(f"`{file.name}`" for file in sources.files),
        state=state,
        words=-(-state // 4),
        period=lamp.timing.control_period_s,
        sensors=", ".join(lamp.sensors),
        channels=", ".join(lamp.channels),
        test=FILE_NAME,
        figures=_table(study),
        compared=compared_words(study),
        verdict=verdict(study),
        timings="; ".join(f"{core.target.name}: {core.target.timing}" for core in study.tried),
        version=study.source["version"],
        file=study.source["lamp"] or "a lamp built in Python",
    )


def _table(study: "TargetStudy") -> str:
    """The figures as a table of the page."""
    names = [core.target.name for core in study.tried]
    lines = [["bytes, and what a step takes", *names], ["---", *("---:" for _ in names)]]
    lines += [list(row) for row in figure_rows(study)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
