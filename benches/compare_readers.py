#!/usr/bin/env python3
"""A whole ingest beside general-purpose metadata libraries, side by side in one run.

    python3 benches/compare_readers.py [FILES] [--rounds N]

Lays out a dump of FILES (2,000) copies of the camera files under tests/data/frames and, where it is there,
../shared/frames (the hostile ones left out), each made distinct, then times, warm:

- framefall's whole ingest, catalogue and sky included (built first, unless $FRAMEFALL names it);
- Image::ExifTool, the Perl library's own program, fast scan, numeric, two processes;
- exiv2, the C++ library through its Python binding, twelve keys, two processes;
- ExifRead, two processes.

The libraries come from the system's and PyPI's registries and are installed into a scratch folder by --install
(needs apt-get and pip). They are references, not parts of framefall.
"""
import argparse
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURES = set("jpg jpeg tif tiff png webp heic heif hif avif nef nrw cr2 cr3 crw arw sr2 dng gpr orf rw2 raf pef srw "
               "3fr fff iiq kdc dcr erf mef mos mrw x3f".split())
READING = re.compile(rb"(19|20)\d\d:\d\d:\d\d \d\d:\d\d:\d\d")
EXIV2 = """
import sys, exiv2
exiv2.enableBMFF() if hasattr(exiv2, 'enableBMFF') else None
exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)
KEYS = ['Exif.Photo.DateTimeOriginal', 'Exif.Photo.SubSecTimeOriginal', 'Exif.Photo.OffsetTimeOriginal',
        'Exif.Photo.ExposureTime', 'Exif.Photo.FNumber', 'Exif.Photo.ISOSpeedRatings', 'Exif.Photo.FocalLength',
        'Exif.Image.Make', 'Exif.Image.Model', 'Exif.Photo.LensModel', 'Exif.GPSInfo.GPSLatitude',
        'Exif.GPSInfo.GPSLongitude']
for path in sys.stdin.read().split('\\n'):
    if not path:
        continue
    try:
        image = exiv2.ImageFactory.open(path)
        image.readMetadata()
        data = image.exifData()
        for key in KEYS:
            found = data.findKey(exiv2.ExifKey(key))
            if found != data.end():
                found.toString()
    except Exception:
        pass
"""
EXIFREAD = """
import sys, logging, exifread
logging.disable(logging.CRITICAL)
for path in sys.stdin.read().split('\\n'):
    if not path:
        continue
    try:
        with open(path, 'rb') as file:
            exifread.process_file(file, details=False)
    except Exception:
        pass
"""


def heads():
    found = []
    for folder in [ROOT / "../shared/frames", ROOT / "tests/data/frames"]:
        if folder.is_dir():
            for path in sorted(folder.rglob("*")):
                if path.is_file() and path.suffix.lower()[1:] in PICTURES and "hostile" not in path.parts:
                    found.append(path)
    if not found:
        sys.exit("no camera files to copy")
    return found


def lay_out(folder, files):
    """Copies of real files, each with clock readings and a tail of its own, so that no two are one frame."""
    sources = heads()
    paths = []
    for i in range(files):
        source = sources[i % len(sources)]
        at = folder / "DCIM" / f"{100 + i // 1000}NITES"
        at.mkdir(parents=True, exist_ok=True)
        when = time.strftime("%Y:%m:%d %H:%M:%S", time.gmtime(1_700_000_000 + 20 * i)).encode()
        data = READING.sub(when, source.read_bytes())
        path = at / f"NITE{i % 10000:04}{source.suffix}"
        path.write_bytes(data)
        paths.append(str(path))
    return paths, len(sources)


def two_processes(command, paths):
    halves = [paths[0::2], paths[1::2]]
    begun = time.perf_counter()
    running = [subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL,
                                stderr=subprocess.DEVNULL, text=True) for _ in halves]
    for process, half in zip(running, halves):
        process.stdin.write("\n".join(half) + "\n")
        process.stdin.close()
    for process in running:
        process.wait()
    return time.perf_counter() - begun


def ingest(program, dump, scratch):
    for path in scratch.glob("catalogue.sqlite*"):
        path.unlink()
    begun = time.perf_counter()
    ended = subprocess.run([program, "--catalogue", str(scratch / "catalogue.sqlite"), "ingest", "--quiet", str(dump)],
                           stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    if ended.returncode not in (0, 1):
        sys.exit(f"the ingest ended with {ended.returncode}")
    return time.perf_counter() - begun


def install(scratch):
    if shutil.which("exiftool") is None:
        subprocess.run(["apt-get", "install", "-y", "-q", "libimage-exiftool-perl"], check=True,
                       stdout=subprocess.DEVNULL)
    environment = scratch / "venv"
    if not environment.exists():
        subprocess.run([sys.executable, "-m", "venv", str(environment)], check=True)
        subprocess.run([str(environment / "bin/pip"), "install", "-q", "exiv2", "ExifRead"], check=True)
    return str(environment / "bin/python")


def build():
    """The program as the sources are now: a stale one would be measured in silence."""
    subprocess.run(["cargo", "build", "--release", "--locked"], cwd=ROOT, check=True)
    return str(Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release/framefall")


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("files", nargs="?", type=int, default=2000)
    asked.add_argument("--rounds", type=int, default=3)
    asked.add_argument("--install", action="store_true", help="install the libraries first")
    asked.add_argument("--scratch", default=os.path.join(tempfile.gettempdir(), "framefall-compare"))
    said = asked.parse_args()
    scratch = Path(said.scratch)
    scratch.mkdir(parents=True, exist_ok=True)
    python = install(scratch) if said.install else str(scratch / "venv/bin/python")
    program = os.environ.get("FRAMEFALL") or build()
    dump = scratch / "card"
    shutil.rmtree(dump, ignore_errors=True)
    paths, sources = lay_out(dump, said.files)
    print(f"{said.files} files from {sources} camera files, {said.rounds} rounds, medians")
    exiftool = ["exiftool", "-fast", "-n", "-q", "-@", "-"]
    runs = {
        "framefall": lambda: ingest(program, dump, scratch),
        "Image::ExifTool": lambda: two_processes(exiftool, paths),
        "exiv2": lambda: two_processes([python, "-c", EXIV2], paths),
        "ExifRead": lambda: two_processes([python, "-c", EXIFREAD], paths),
    }
    times = {name: [] for name in runs}
    for round_ in range(said.rounds + 1):
        for name, run in runs.items():
            seconds = run()
            if round_ > 0:  # the first round warms the cache
                times[name].append(seconds)
    ours = statistics.median(times["framefall"])
    for name, seconds in times.items():
        median = statistics.median(seconds)
        print(f"{name:16} {said.files / median:9.0f} files/s   framefall is {median / ours:6.1f} times as fast")
    shutil.rmtree(dump, ignore_errors=True)


main()
