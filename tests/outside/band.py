"""The band's levels, metered by ffmpeg's ebur128 (ITU-R BS.1770, EBU R 128), and pairs for a blind comparison.

    band.py levels BINARY [--parts] [FONT.sf2 ...]     feels by tempi by fonts; fails outside the windows
    band.py drums BINARY [FONT.sf2 ...]                each drum against its window
    band.py cues BINARY [FONT.sf2 ...]                 every spoken cue and model tone against the band's last three seconds; the click
    band.py pairs BEFORE AFTER DIRECTORY [SEED]        12 pairs of two builds, level-matched, shuffled, with a key file

Windows: the house's. Mix -20 LUFS +-1, true peak at most -1 dBTP; parts against the mix, in LU.
"""

import array
import json
import random
import re
import subprocess
import sys
import tempfile
import wave
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
# Cues against the band's short-term loudness (EBU Tech 3341: 3 s) where they begin, in LU; the click against the mix that is aimed at.
CUES = [("swing", "first-evening", 1, 80), ("swing", "ladder", 20, 130), ("straight", "ladder", 5, 100), ("bossa", "ladder", 12, 120)]
CUE_LU, CUE_WINDOW_LU = 3.0, (-2.0, 0.5)
CLICK_WINDOW = (-8.0, -3.0)
# Where the cues follow no farther.
FOLLOWED_LUFS = (-32.0, -14.0)


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


def short_term(path):
    """The loudness of the last three seconds in LUFS, by tenths of a second."""
    told = subprocess.run(["ffmpeg", "-hide_banner", "-nostats", "-i", path, "-af", "ebur128=framelog=info", "-f", "null", "-"],
                          capture_output=True, text=True, check=True).stderr
    found = re.findall(r"t:\s*([\d.]+)\s+TARGET.*?S:\s*(-?[\d.]+|-?inf)", told)
    return {round(10 * float(at)): float(lufs) for at, lufs in found}


def sounding(path):
    """From when to when something sounds, in seconds: what lies less than 0.3 s apart is one."""
    with wave.open(str(path)) as file:
        rate = file.getframerate()
        samples = array.array("h", file.readframes(file.getnframes()))
    step, found = rate // 1000, []
    for at in range(0, len(samples), step):
        if max(map(abs, samples[at:at + step])) <= 30:
            continue
        if found and at - found[-1][1] <= 0.3 * rate:
            found[-1][1] = at + step
        else:
            found.append([at, at + step])
    return [(start / rate, end / rate) for start, end in found]


def stretch(path, start, end):
    """The loudness of a stretch of one channel that is heard in both, in LUFS; said again until the meter has enough."""
    again = f"atrim={start:.3f}:{end:.3f},aloop={int(0.6 / (end - start)) + 1}:{int((end - start) * 48_000)}"
    told = subprocess.run(["ffmpeg", "-hide_banner", "-nostats", "-i", path, "-af", f"{again},pan=stereo|c0=c0|c1=c0,ebur128",
                           "-f", "null", "-"], capture_output=True, text=True, check=True).stderr
    return float(re.search(r"I:\s+(-?[\d.]+|-inf)", told[told.rindex("Summary:"):])[1])


def cues(binary, fonts):
    wrong = 0
    with tempfile.TemporaryDirectory() as place:
        work = Path(place)
        wav, cue, config = work / "band.wav", work / "cue.wav", work / "config.toml"
        for font in fonts:
            for feel, drill, stage, tempo in CUES:
                def take(levels, *more):
                    config.write_text("[levels]\n" + "".join(f"{part} = -90.0\n" for part in levels) + "[audio]\ncue_to = \"cue\"\n")
                    subprocess.run([binary, "render", HOUSE / CHARTS[feel], "--drill", HOUSE / f"configs/drills/{drill}.toml", "--stage",
                                    str(stage), "--tempo", str(tempo), "--seconds", "60", "--config", config, "--soundfont", font, *more],
                                   check=True, capture_output=True)
                take([], "--wav", wav, "--wav-cue", cue)
                band = short_term(wav)
                heard = [(band.get(round(10 * start), -120.0), stretch(cue, start, end)) for start, end in sounding(cue)]
                over = sorted(own - lufs for lufs, own in heard if FOLLOWED_LUFS[0] < lufs < FOLLOWED_LUFS[1])
                take([part for part in PARTS if part != "click"], "--wav", wav, "--silent-voice")
                click = meter(wav)[0] - MIX_LUFS
                bad = not over or over[0] < CUE_LU + CUE_WINDOW_LU[0] or over[-1] > CUE_LU + CUE_WINDOW_LU[1]
                bad |= click > -90.0 and not CLICK_WINDOW[0] <= click <= CLICK_WINDOW[1]
                wrong += bad
                told = f"{len(over)} cues {over[0]:+.1f} to {over[-1]:+.1f} over the band" if over else "no cue"
                print(f"{Path(font).stem:12} {drill} {stage} at {tempo}: {told}  click {click:+.1f}{'  OUTSIDE' if bad else ''}", flush=True)
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
        case ["cues", binary, *named]:
            sys.exit(cues(binary, named or FONTS))
        case ["pairs", before, after, directory, *seed]:
            sys.exit(pairs(before, after, Path(directory), int(seed[0]) if seed else 1))
        case _:
            sys.exit(__doc__)
