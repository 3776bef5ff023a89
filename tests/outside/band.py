"""The band's levels, metered by ffmpeg's ebur128 (ITU-R BS.1770, EBU R 128), and pairs for a blind comparison.

    band.py levels BINARY [--parts] [FONT.sf2 ...]     feels by tempi by fonts; fails outside the windows
    band.py drums BINARY [FONT.sf2 ...]                each drum, the click and the cues, against their windows
    band.py pairs BEFORE AFTER DIRECTORY [SEED]        12 pairs of two builds, level-matched, shuffled, with a key file

Windows: the house's. Mix -20 LUFS +-1, true peak at most -1 dBTP; parts against the mix, in LU.
"""

import json
import random
import re
import subprocess
import sys
import tempfile
from pathlib import Path

HOUSE = Path(__file__).resolve().parents[2]
FONTS = [f"/usr/share/sounds/sf2/{name}.sf2" for name in ("TimGM6mb", "FluidR3_GM", "sf_GMbank")]
CHARTS = {
    "swing": "configs/charts/ferry-at-six.toml",
    "waltz": "configs/charts/nine-lanterns.toml",
    "bossa": "configs/charts/tram-to-the-salt-pans.toml",
    "straight": "configs/charts/gasworks-corner.toml",
    "ballad": "configs/charts/ferry-at-six.toml",
    "shuffle": "configs/charts/gasworks-corner.toml",
}
TEMPI = [80, 130, 200]
PARTS = ["comping", "bass", "drums", "click", "model", "melody"]
MIX_LUFS, MIX_LU, PEAK_DBTP = -20.0, 1.0, -1.0
WINDOWS = {"comping": (-7.0, -1.0), "bass": (-7.0, -1.0), "drums": (-13.0, -4.0)}
SECONDS = "30"
# Drums against the mix, in LU, by feel; the place of each among the drums whose balance is kept.
FIRST_DRUM = 3
DRUM_WINDOWS = {
    "ride": (11, {"swing": (-12.0, -5.0), "straight": (-12.0, -5.0)}),
    "kick": (1, {"swing": (-30.0, -16.0), "straight": (-20.0, -8.0), "bossa": (-20.0, -8.0)}),
    "hi-hat, foot": (6, {"swing": (-24.0, -10.0)}),
    "hi-hat, sticks": (5, {"bossa": (-14.0, -5.0)}),
    "side stick": (2, {"bossa": (-20.0, -8.0), "straight": (-20.0, -8.0)}),
}


def meter(path):
    """Integrated loudness in LUFS and true peak in dBTP."""
    told = subprocess.run(
        ["ffmpeg", "-hide_banner", "-nostats", "-i", path, "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"],
        capture_output=True, text=True, check=True).stderr
    summary = told[told.rindex("Summary:"):]
    found = [re.search(name + r":\s+(-?[\d.]+|-inf)", summary)[1] for name in ("I", "Peak")]
    return tuple(map(float, found))


def render(binary, work, chart, feel, tempo, font, only=None, seed=1, cache=None):
    """A chart in a feel as WAV; `only`: one part; `cache`: where the balance is kept."""
    text = (HOUSE / chart).read_text()
    told = re.sub(r'(?m)^feel\s*=\s*"\w+"', f'feel = "{feel}"', text)
    file, config, wav = work / "chart.toml", work / "config.toml", work / "take.wav"
    file.write_text(told)
    levels = "".join(f"{part} = -90.0\n" for part in PARTS if only and part != only)
    paths = f'[paths]\ncache_dir = "{cache}"\n' if cache else ""
    config.write_text("[levels]\n" + levels + paths)
    command = [binary, "render", file, "--form", "--silent-voice", "--seconds", SECONDS, "--tempo", str(tempo),
               "--soundfont", font, "--config", config, "--seed", str(seed), "--wav", wav]
    subprocess.run(command, check=True, capture_output=True)
    return wav


def levels(binary, fonts, with_parts):
    wrong = 0
    with tempfile.TemporaryDirectory() as place:
        work = Path(place)
        for font in fonts:
            for feel, chart in CHARTS.items():
                for tempo in TEMPI:
                    lufs, peak = meter(render(binary, work, chart, feel, tempo, font))
                    row, bad = [f"mix {lufs:6.1f} LUFS {peak:5.1f} dBTP"], abs(lufs - MIX_LUFS) > MIX_LU or peak > PEAK_DBTP
                    for part, (low, high) in WINDOWS.items() if with_parts else ():
                        own, _ = meter(render(binary, work, chart, feel, tempo, font, part))
                        row.append(f"{part} {own - lufs:+5.1f}")
                        bad |= not low <= own - lufs <= high
                    wrong += bad
                    print(f"{Path(font).stem:12} {feel:9} {tempo:3} {'  '.join(row)}{'  OUTSIDE' if bad else ''}", flush=True)
    return 1 if wrong else 0


def drums(binary, fonts):
    """Each drum by itself: in the font's kept balance all others are as good as silent (50 dB down)."""
    wrong = 0
    with tempfile.TemporaryDirectory() as place:
        work = Path(place)
        for font in fonts:
            for feel in ("swing", "bossa", "straight"):
                mix, _ = meter(render(binary, work, CHARTS[feel], feel, 130, font, cache=work / "cache"))
                [kept] = (work / "cache/balance").iterdir()
                balance = kept.read_text()
                row, bad = [f"mix {mix:6.1f}"], False
                for name, (index, windows) in DRUM_WINDOWS.items():
                    if feel not in windows:
                        continue
                    lufs = json.loads(balance)["lufs"]
                    others = [60.0 if at >= FIRST_DRUM and at != FIRST_DRUM + index else one for at, one in enumerate(lufs)]
                    kept.write_text(json.dumps({"lufs": others}))
                    own, _ = meter(render(binary, work, CHARTS[feel], feel, 130, font, "drums", cache=work / "cache"))
                    low, high = windows[feel]
                    bad |= not low <= own - mix <= high
                    row.append(f"{name} {own - mix:+5.1f}")
                kept.unlink()
                wrong += bad
                print(f"{Path(font).stem:12} {feel:9} {'  '.join(row)}{'  OUTSIDE' if bad else ''}", flush=True)
    return 1 if wrong else 0


def pairs(before, after, directory, seed):
    """12 pairs: both of the same chart, tempo and seed, brought to the same loudness; which is which is in the key file."""
    directory.mkdir(parents=True, exist_ok=True)
    choose, key = random.Random(seed), ["pair,feel,tempo,A,B"]
    with tempfile.TemporaryDirectory() as place:
        work = Path(place)
        cases = [(feel, tempo) for feel in CHARTS if feel != "shuffle" for tempo in (90, 140, 190)][:12]
        for number, (feel, tempo) in enumerate(cases, 1):
            order = [("before", before), ("after", after)]
            choose.shuffle(order)
            for letter, (_, binary) in zip("AB", order):
                wav = render(binary, work, CHARTS[feel], feel, tempo, FONTS[0], seed=number)
                gain = MIX_LUFS - 3 - meter(wav)[0]
                out = directory / f"{number:02}-{letter}.wav"
                subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", wav, "-af", f"volume={gain:.2f}dB", out], check=True)
                if number == 1:
                    picture = directory / f"{number:02}-{letter}.png"
                    # A legend, or another width than a power of two, takes minutes.
                    drawn = "aformat=channel_layouts=mono,showspectrumpic=s=1024x512:legend=0"
                    subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", out, "-lavfi", drawn, "-frames:v", "1", picture], check=True)
            key.append(f"{number:02},{feel},{tempo},{order[0][0]},{order[1][0]}")
    (directory / "key.csv").write_text("\n".join(key) + "\n")
    print(f"{len(cases)} pairs in {directory}; which is which stands in key.csv")
    return 0


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["levels", binary, *rest]:
            named = [one for one in rest if one != "--parts"]
            sys.exit(levels(binary, named or FONTS, "--parts" in rest))
        case ["drums", binary, *named]:
            sys.exit(drums(binary, named or FONTS))
        case ["pairs", before, after, directory, *seed]:
            sys.exit(pairs(before, after, Path(directory), int(seed[0]) if seed else 1))
        case _:
            sys.exit(__doc__)
