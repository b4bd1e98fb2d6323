"""Three sets of colours: for the sun, for the dark, and for a display that shows no colour.

Black on white and white on black have a contrast of 21:1, the greatest there is. What a colour says is always
said in words or by a sign as well.
"""

from textual.theme import Theme

LIGHT = Theme(
    name="light",
    dark=False,
    background="#FFFFFF",
    surface="#FFFFFF",
    panel="#FFFFFF",
    foreground="#000000",
    primary="#00008B",
    secondary="#5A3A00",
    accent="#000000",
    warning="#7A3B00",
    error="#A00000",
    success="#004D00",
    text_alpha=1.0,
)
DARK = Theme(
    name="dark",
    dark=True,
    background="#000000",
    surface="#000000",
    panel="#000000",
    foreground="#FFFFFF",
    primary="#FFE600",
    secondary="#7FD4FF",
    accent="#FFFFFF",
    warning="#FFB000",
    error="#FF8080",
    success="#7CFF7C",
    text_alpha=1.0,
)
MONO = Theme(
    name="mono",
    dark=True,
    background="#000000",
    surface="#000000",
    panel="#000000",
    foreground="#FFFFFF",
    primary="#FFFFFF",
    secondary="#FFFFFF",
    accent="#FFFFFF",
    warning="#FFFFFF",
    error="#FFFFFF",
    success="#FFFFFF",
    text_alpha=1.0,
)
THEMES = (LIGHT, DARK, MONO)
