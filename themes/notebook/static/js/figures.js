// Digits of a figure that a script works out: the same rule as in the pages, so that both agree to the last digit.
(function (root) {
  "use strict";

  const MINUS = "\u2212";
  const NO_BREAK = "\u00a0";

  function text(number, decimals) {
    const digits = number.toFixed(decimals);
    return Number(digits) === 0 ? digits.replace("-", "") : digits.replace("-", MINUS);
  }

  /**
   * Returns a value and its uncertainty as digits to the same place.
   *
   * Particle Data Group: leading digits up to 354 keep two, up to 949 one. Where rounding would understate the
   * uncertainty by more than 2.5 %, it is rounded up (JCGM 100:2008, 7.2.6).
   */
  function roundToUncertainty(value, u) {
    if (!(u > 0 && Number.isFinite(u) && Number.isFinite(value))) return null;
    const [digits, power] = u.toExponential().split("e");
    const lead = Math.round(Number(digits) * 100);
    const place = lead < 355 ? Number(power) - 1 : Number(power);
    // Negative powers of ten are no binary fractions: scale by the positive one.
    const scale = 10 ** Math.abs(place);
    const steps = place < 0 ? u * scale : u / scale;
    const whole = Math.round(steps) < steps * 0.975 ? Math.ceil(steps) : Math.round(steps);
    const round = (n) => (place > 0 ? Math.round(n / scale) * scale : n);
    const decimals = Math.max(0, -place);
    return { value: text(round(value), decimals), u: text(place < 0 ? whole / scale : whole * scale, decimals) };
  }

  /** Returns `61.4 ± 0.3 °C`, or an empty text where there is no figure. */
  function format(value, u, unit) {
    const parts = roundToUncertainty(value, u);
    return parts ? [parts.value, "±", parts.u, unit].join(NO_BREAK) : "";
  }

  const api = { roundToUncertainty, format };
  if (typeof module === "object" && module.exports) module.exports = api;
  else root.SoakbookFigures = api;
})(globalThis);
