"""What a calibration has to say, with the lines for the site file.

Entry points: `calibrate_document`, `site_file_sections`.
"""

from audiolevel.metering.calibration import CalibrationMethod
from audiolevel.metering.gain_control import Steadiness
from audiolevel.metering.instrument import Instrument
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.report.document import Document, Fact, Lines, Section, cautions, document
from audiolevel.report.words.decisions import calibration_method


def calibrate_document(found: Instrument) -> Document:
    """A calibration as a document."""
    facts = []
    calibration, display = found.calibration, found.display
    if calibration is not None:
        gain = "gain of this recording"
        if calibration.method is CalibrationMethod.DATA_SHEET:
            gain = "data sheet's gain"
        said = (
            f"{calibration.spl_at_full_scale_db:.1f} dB SPL, within "
            f"{calibration.uncertainty_db:.1f} dB (95 %), from {calibration_method(calibration)}; "
            f"it holds for the {gain} (gain.recorded_at in the site file)"
        )
        facts.append(Fact("full scale", said, 0))
    if found.tones_apart_db is not None:
        apart = f"the two tones are {found.tones_apart_db:z.2f} dB apart (20 is right)"
        facts.append(Fact("linear", apart, 0))
    if display is not None:
        said = (
            f"shown = {display.slope:.3f} × level + {display.offset:.1f}; the readings lie within "
            f"{display.residual_db:.1f} dB of it"
        )
        facts.append(Fact("display", said, 0))
    if found.noise is not None:
        facts.append(Fact("noise", _noise(found, found.noise), 1))
    if found.steadiness is not None:
        facts.append(Fact("gain test", _steadiness(found.steadiness), 0))
    lines = _lines(found)
    sections = [
        Section("What was found", tuple(facts), lead=True),
        cautions(found.notices),
        Section("For the site file", (Lines(lines),) if lines else ()),
    ]
    return document("Calibration", "", sections)


def _noise(found: Instrument, noise: OwnNoise) -> str:
    if noise.capsule_db is None:
        capsule = "the capsule's is below what these gains can tell"
    elif found.self_noise_dba is None:
        capsule = (
            f"the capsule's {noise.capsule_db:.1f} dB FS at the recorded gain (dB(A) once the full "
            "scale is known: --site)"
        )
    else:
        capsule = f"the capsule's {found.self_noise_dba:.1f} dB(A), in front of the gain"
    return f"{capsule}; the converter's {noise.converter_db:.1f} dB FS, behind it"


def _steadiness(held: Steadiness) -> str:
    verdict = "the camera turns its own gain" if held.gain_control else "no gain control found"
    return (
        f"{verdict}: after {held.claps} claps the tone, {held.tone_above_db:.0f} dB above the "
        f"site, changes by {held.change_db:+z.2f} dB (0.3 and more is gain control)"
    )


def _lines(found: Instrument) -> tuple[str, ...]:
    lines: list[str] = []
    for name, body in site_file_sections(found).items():
        lines += ["", f"[{name}]", *body]
    return tuple(lines[1:])


def site_file_sections(found: Instrument) -> dict[str, list[str]]:
    """The lines of each section of a site file that hold what was found, by its name."""
    microphone = []
    calibration = found.calibration
    if calibration is not None:
        value = round(calibration.spl_at_full_scale_db, 2)
        about = calibration_method(calibration)
        if calibration.method is not CalibrationMethod.DATA_SHEET:
            about += ", at the gain it was recorded with"
        microphone += [
            f"spl_at_full_scale_db = {value}   # {about}",
            f"calibration_within_db = {calibration.uncertainty_db:.2f}",
        ]
    if found.self_noise_dba is not None:
        microphone.append(f"self_noise_dba = {found.self_noise_dba:.1f}")
    if found.noise is not None:
        microphone.append(f"converter_noise_dbfs = {found.noise.converter_db:.1f}")
    if found.steadiness is not None:
        verdict = "found" if found.steadiness.gain_control else "none found"
        microphone.append(f'gain_control = "{verdict}"')
    sections = {"microphone": microphone} if microphone else {}
    if found.readings:
        pairs = ", ".join(f"[{shown:g}, {level:g}]" for shown, level in found.readings)
        sections["display"] = [f"readings = [{pairs}]   # [shown, level in dB FS]"]
    return sections
