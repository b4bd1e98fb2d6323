"""Joints for tests, with only what a test says differing from one plain joint."""

from logger.domain.joint import Joint, PipeEnd, WallRule


def pipe(
    *,
    dn: float = 180.0,
    wall: float = 16.4,
    material: str = "PE100",
    sdr: float | None = None,
    melt_flow: float | None = None,
    out_of_round: float | None = None,
) -> PipeEnd:
    return PipeEnd(
        material=material,
        outside_diameter_mm=dn,
        wall_mm=wall,
        wall_rule=WallRule.ENTERED,
        sdr=sdr,
        melt_flow_rate=melt_flow,
        out_of_round_mm=out_of_round,
    )


def joint(
    a: PipeEnd | None = None,
    b: PipeEnd | None = None,
    *,
    ambient: float | None = 20.0,
    drag: float | None = 12.0,
    area: float | None = 629.0,
    options: frozenset[str] = frozenset(),
) -> Joint:
    end = a or pipe()
    return Joint(
        joint="T-1",
        procedure="under test",
        pipe_a=end,
        pipe_b=b or end,
        ambient_temperature_degC=ambient,
        drag_pressure_bar=drag,
        piston_area_mm2=area,
        options=options,
    )
