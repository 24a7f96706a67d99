"""Every page there is, as a browser asks for it; and what is measured on a picture of one."""

PAGES = (
    "/", "/night", "/night?from=2026-11-23T06:00&to=2026-11-24T20:00", "/night/week", "/loads",
    "/loads/load%202", "/water", "/power", "/log", "/history?channel=house+voltage",
    "/rests/energy_days/house", "/nowhere", "/alerts", "/alerts/month", "/rules", "/rules/low%20voltage",
    "/handover", "/guests", "/phone", "/signin", "/reading",
    "/fit-out", "/fit-out/calibration",
)  # fmt: skip
SIZES = {"phone": (390, 844), "panel": (1024, 600), "desk": (1920, 1080)}
LIGHTS = ("day", "dim", "night")
LANGUAGES = ("en", "es", "fr")
NINE = tuple(
    (size, light, LANGUAGES[(i + j) % 3])
    for i, size in enumerate(SIZES)
    for j, light in enumerate(LIGHTS)
)  # fmt: skip
"""Sizes, dresses and languages so that every two of them meet: an orthogonal array L9 of strength two."""

LIGHT_OF = """async (image) => {
  const picture = new Image();
  picture.src = "data:image/png;base64," + image;
  await picture.decode();
  const sheet = new OffscreenCanvas(picture.width, picture.height).getContext("2d");
  sheet.drawImage(picture, 0, 0);
  const [w, h] = [picture.width, picture.height];
  const data = sheet.getImageData(0, 0, w, h).data;
  const linear = Array.from({length: 256},
    (_, c) => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
  const bright = new Uint8Array(w * h), across = new Uint8Array(w * h);
  let sum = 0, most = 0;
  for (let n = 0; n < w * h; n++) {
    const [r, g, b] = [data[4 * n], data[4 * n + 1], data[4 * n + 2]];
    const light = 0.2126 * linear[r] + 0.7152 * linear[g] + 0.0722 * linear[b];
    sum += light;
    most = Math.max(most, light);
    bright[n] = light > 0.20 ? 1 : 0;
  }
  const STROKE = 8;
  for (let y = 0; y < h; y++) {
    for (let x = 0, from = 0; x <= w; x++) {
      if (x === w || !bright[y * w + x]) {
        if (x - from >= STROKE) { across.fill(1, y * w + from, y * w + x); }
        from = x + 1;
      }
    }
  }
  let area = 0;
  for (let x = 0; x < w; x++) {
    for (let y = 0, from = 0; y <= h; y++) {
      if (y === h || !across[y * w + x]) {
        if (y - from >= STROKE) { area += y - from; }
        from = y + 1;
      }
    }
  }
  return [sum / (w * h), most, area];
}"""
"""Mean and greatest relative luminance (WCAG 2.2) of a picture; and how many of its points over 0.20 belong
to an area, not to a stroke: to runs of eight points and more, both across and down."""
