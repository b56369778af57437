"""The invented bodies, lenses and converters, and what each body writes down about them."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

MAKER = "Saltmark"


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A camera body and its habits."""

    model: str
    serial: str
    prefix: str
    """First four characters of its file names."""
    pixel_pitch_um: float
    sensor_diagonal_mm: float
    crop_factor: float
    full_well_e: float
    """Electrons at which a pixel is white, at ISO 100."""
    base_iso: int
    highest_iso: int
    writes_fractions: bool
    """Whether it records sub-second time."""
    writes_converter: bool
    """Whether its note names a converter that talks to it."""
    utc_offset: str | None
    first_number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """A prime lens."""

    name: str
    focal_length_mm: float
    widest: float
    """Widest f-number, exact."""
    sigma_um: float
    """Its own blur on the sensor, as the sigma of a Gaussian."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter:
    """A teleconverter."""

    factor: float
    light_loss_ev: int
    sigma_um: float
    """The blur that it adds on the sensor."""
    in_lens_name: bool = False
    """Whether it adds a suffix to the lens name."""
    silent: bool = False
    """Whether no body knows of it: neither focal length nor f-number nor name shows it."""


FULL = Body(
    model="Saltmark F2", serial="F2-00417", prefix="F2A_", pixel_pitch_um=5.97, sensor_diagonal_mm=43.07,
    crop_factor=1.0, full_well_e=60_000, base_iso=100, highest_iso=25_600, writes_fractions=True,
    writes_converter=True, utc_offset="+01:00", first_number=412,
)  # fmt: skip
SMALL = Body(
    model="Saltmark S2", serial="S2-10093", prefix="S2B_", pixel_pitch_um=3.9, sensor_diagonal_mm=28.21,
    crop_factor=1.534, full_well_e=25_000, base_iso=100, highest_iso=12_800, writes_fractions=False,
    writes_converter=False, utc_offset=None, first_number=9968,
)  # fmt: skip

LONG = Lens(name="Saltmark 500mm f/5.6", focal_length_mm=500, widest=2 ** (15 / 6), sigma_um=2.0)
BRIGHT = Lens(name="Saltmark 300mm f/4", focal_length_mm=300, widest=4.0, sigma_um=1.6)

SUFFIXED_1_4 = Converter(factor=1.4, light_loss_ev=1, sigma_um=1.6, in_lens_name=True)
PLAIN_2 = Converter(factor=2.0, light_loss_ev=2, sigma_um=2.6)
SILENT_1_4 = Converter(factor=1.4, light_loss_ev=1, sigma_um=2.0, silent=True)
"""Bought from a third party; its contacts are passed through and it tells nobody that it is there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """A body, a lens, and perhaps a converter between them."""

    body: Body
    lens: Lens
    converter: Converter | None = None

    @property
    def factor(self) -> float:
        """True factor of the converter; 1 without one."""
        return self.converter.factor if self.converter else 1.0

    @property
    def focal_length_mm(self) -> float:
        """True focal length in effect."""
        return self.lens.focal_length_mm * self.factor

    @property
    def widest(self) -> float:
        """True widest f-number in effect."""
        loss_ev = self.converter.light_loss_ev if self.converter else 0
        return float(self.lens.widest * 2 ** (loss_ev / 2))

    @property
    def known_factor(self) -> float:
        """The factor that the body works into what it writes: 1 behind a silent converter."""
        return 1.0 if self.converter is None or self.converter.silent else self.converter.factor

    @property
    def written_lens_name(self) -> str:
        """The lens name as the body writes it."""
        if self.converter and self.converter.in_lens_name:
            return f"{self.lens.name} + {self.converter.factor:g}x"
        return self.lens.name

    @property
    def optics_sigma_px(self) -> float:
        """Blur of lens and converter together, in pixels, for what is in focus.

        The converter magnifies the lens's own blur as it does everything else.
        """
        own_um = self.converter.sigma_um if self.converter else 0.0
        return hypot(self.lens.sigma_um * self.factor, own_um) / self.body.pixel_pitch_um

    @property
    def system_sigma_px(self) -> float:
        """The same with the pixel, whose box has sigma 1 / sqrt(12)."""
        return hypot(self.optics_sigma_px, 12**-0.5)


FULL_KITS = (
    Kit(body=FULL, lens=LONG),
    Kit(body=FULL, lens=LONG, converter=SUFFIXED_1_4),
    Kit(body=FULL, lens=LONG, converter=PLAIN_2),
)
SMALL_KITS = (
    Kit(body=SMALL, lens=BRIGHT),
    Kit(body=SMALL, lens=BRIGHT, converter=SILENT_1_4),
    Kit(body=SMALL, lens=BRIGHT, converter=PLAIN_2),
)
