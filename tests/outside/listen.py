#!/usr/bin/env python3
"""Reads a chart and a rendered MIDI file by itself and says what a bandleader would object to.

    listen.py CHART FILE.mid [--comping full|inside|without-target|off] [--degrees 1,3] [--learning]
                             [--bass on|off] [--drums ride|...] [--prove]

The file is of the whole form, played round and round until it is cut. Exit codes: 0 nothing to object, 1 faults
(listed), 64 usage. The last line of the output is the figures as JSON.

`--prove` instead spoils the file in known ways, one at a time, and fails where one is not noticed by its rule.
"""

import argparse
import json
import sys

import mido

import checks
import spoil
from chart import Chart
from smf import File


def parse(arguments):
    parser = argparse.ArgumentParser()
    parser.add_argument("chart")
    parser.add_argument("midi")
    parser.add_argument("--comping", default="full", choices=["full", "inside", "without-target", "off"])
    parser.add_argument("--degrees", default="", help="the targets: 1, 3, 5, with commas")
    parser.add_argument("--learning", action="store_true", help="a stage of one or two degrees: plain rhythms")
    parser.add_argument("--bass", default="on", choices=["on", "off"])
    parser.add_argument("--drums", default="ride")
    parser.add_argument("--feel-ms", type=float, default=0.0, help="how far notes may be from their places: time feel")
    parser.add_argument("--prove", action="store_true")
    options = parser.parse_args(arguments)
    options.degrees = [d for d in options.degrees.split(",") if d]
    return options


def main(arguments):
    options = parse(arguments)
    chart, midi = Chart(options.chart), mido.MidiFile(options.midi)
    faults, figures = checks.listen(chart, File(midi), options)
    for rule, found in faults.items():
        for fault in found[:8]:
            print(f"{rule}: {fault}")
        if len(found) > 8:
            print(f"{rule}: and {len(found) - 8} more")
    if options.prove and not faults:
        return spoil.prove(chart, midi, options)
    print(json.dumps({"faults": sum(map(len, faults.values())), **figures}))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
