// Numbers as they are said in the shop, and arrays as they are stored in the page.
"use strict";
window.tidemark = window.tidemark || {};

(function (tidemark) {
  function significant(value, digits) {
    if (value === 0) return "0";
    const size = Math.abs(value);
    if (size >= 1e7 || size < 1e-4) return value.toExponential(digits - 1);
    const decimals = Math.max(0, digits - 1 - Math.floor(Math.log10(size)));
    return value.toFixed(decimals);
  }

  // As hours_from and days_from in io/shop_units.
  const hoursFrom = 3 * 3600;
  const daysFrom = 3 * 86400;

  function inTwoUnits(value, ratio, large, small) {
    const rounded = Math.round(value);
    return Math.floor(rounded / ratio) + large + (rounded % ratio) + small;
  }

  function longTime(seconds) {
    if (Math.round(seconds / 60) * 60 < daysFrom) return inTwoUnits(seconds / 60, 60, " h ", " min");
    const days = seconds / 86400;
    return days < 1e5 ? inTwoUnits(seconds / 3600, 24, " days ", " h") : significant(days, 3) + " days";
  }

  // As as_minutes in io/shop_units.
  function minutes(seconds) {
    const size = Math.abs(seconds);
    if (size > 0 && size < 0.1) return significant(seconds, 3) + " s";
    const sign = seconds < 0 ? "-" : "";
    const whole = Math.round(size);
    if (whole >= hoursFrom) return sign + longTime(size);
    if (whole < 60) return sign + size.toFixed(size > 0 && size < 9.95 ? 1 : 0) + " s";
    return sign + Math.floor(whole / 60) + ":" + String(whole % 60).padStart(2, "0") + " min";
  }

  // As as_bar, as_millimetres, as_viscosity there; without the unit where that is always the same.
  function bar(value) {
    const size = Math.abs(value);
    if (size > 0 && size < 1e-4) return significant(value, 3);
    return unsigned(value.toFixed(size > 0 && size < 0.1 ? 4 : 2));
  }

  function length(metres) {
    const millimetres = 1e3 * metres;
    const size = Math.abs(millimetres);
    if (size >= 9999.5) return metres.toFixed(2) + " m";
    return unsigned(millimetres.toFixed(size < 99.95 ? 1 : 0)) + " mm";
  }

  function viscosity(value) {
    return value < 0.9995 ? significant(1e3 * value, 3) + " mPa·s" : significant(value, 3) + " Pa·s";
  }

  // As as_percent in io/spoken.
  function percent(value) {
    if (value === 0 || Math.abs(value - 100) <= 1e-7) return value === 0 ? "0" : "100";
    if (value > 0 && value < 0.1) return "under 0.1";
    if (value > 99.9 && value < 100) return Math.min(value, 99.99).toFixed(2);
    return value.toFixed(1);
  }

  // As as_litres in io/shop_units.
  function volume(cubicMetres) {
    const litres = 1e3 * cubicMetres;
    const size = Math.abs(litres);
    return size > 0 && size < 0.01 ? significant(1e3 * litres, 3) + " mL" : significant(litres, 3) + " L";
  }

  // No minus before a zero.
  function unsigned(text) {
    return /[1-9]/.test(text) ? text : text.replace("-", "");
  }

  // scale, offset: from SI to what is said; unit: behind the number.
  const kinds = {
    time: { unit: "min:s" },
    pressure: { unit: "bar", scale: 1e-5, number: bar },
    flow: { unit: "L/min", scale: 6e4 },
    volume: { unit: "L", scale: 1e3, text: volume },
    length: { unit: "mm", scale: 1e3, text: length },
    share: { unit: "%", scale: 100, number: percent },
    area: { unit: "m²" },
    angle: { unit: "°", scale: 180 / Math.PI },
    viscosity: { unit: "mPa·s", scale: 1e3, text: viscosity },
    temperature: { unit: "°C", offset: -273.15 },
    force: { unit: "kN", scale: 1e-3 },
  };

  function shown(kind, value) {
    return value * (kinds[kind].scale || 1) + (kinds[kind].offset || 0);
  }

  function stored(kind, value) {
    return (value - (kinds[kind].offset || 0)) / (kinds[kind].scale || 1);
  }

  // "4:51 min", "1.20 bar": a value in SI as text.
  function say(kind, value) {
    if (value === null || !Number.isFinite(value)) return "none";
    if (kind === "time") return minutes(value);
    if (kinds[kind].text) return kinds[kind].text(value);
    const number = kinds[kind].number || ((v) => significant(v, 3));
    return number(shown(kind, value)) + " " + kinds[kind].unit;
  }

  const timeSteps = [1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 300, 600, 900, 1200, 1800, 3600, 7200, 10800, 21600, 43200, 86400];

  // Round values within a range [SI], about so many.
  function ticks(kind, least, most, count) {
    if (!(most > least)) return [least];
    if (kind === "time" && (most - least) / count > 1) {
      const step = timeSteps.find((s) => (most - least) / s <= count) || 86400 * Math.ceil((most - least) / count / 86400);
      return d3.range(Math.ceil(least / step) * step, most * (1 + 1e-9), step);
    }
    return d3.scale.linear().domain([shown(kind, least), shown(kind, most)]).ticks(count)
      .map((value) => stored(kind, value));
  }

  // A value of an axis, as short as the step between ticks allows; without the unit.
  function tickText(kind, value, values) {
    const step = values.length > 1 ? Math.abs(shown(kind, values[1]) - shown(kind, values[0])) : 0;
    if (kind === "time") {
      const unit = axisUnit(kind, values);
      if (unit === "s") return significant(value, 3);
      if (unit === "days") return (value / 86400).toFixed(step >= 86400 ? 0 : 2);
      const sixtieth = unit === "h:min" ? 60 : 1;
      const large = Math.floor(value / sixtieth / 60 + 1e-9);
      return large + ":" + String(Math.round(value / sixtieth - 60 * large)).padStart(2, "0");
    }
    const number = shown(kind, value);
    if (number !== 0 && (Math.abs(number) >= 1e5 || step < 1e-4)) return number.toExponential(1);
    return number.toFixed(step > 0 ? Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) : 2);
  }

  // The unit of an axis with these ticks.
  function axisUnit(kind, values) {
    if (kind !== "time") return kinds[kind].unit;
    const step = values.length > 1 ? values[1] - values[0] : 1;
    const last = values[values.length - 1];
    if (step < 60 && last >= hoursFrom) return kinds.time.unit; // times that differ by seconds
    return last >= daysFrom && step >= 3600 ? "days" : last >= hoursFrom ? "h:min" : step < 1 && last < 60 ? "s" : kinds.time.unit;
  }

  function bytes(text) {
    const raw = atob(text);
    const result = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; ++i) result[i] = raw.charCodeAt(i);
    return result;
  }

  function wholeNumbers(packed) {
    const buffer = bytes(packed.values).buffer;
    return packed.bytes === 1 ? new Uint8Array(buffer) : packed.bytes === 2 ? new Uint16Array(buffer) : new Uint32Array(buffer);
  }

  const noValue = 65535;

  // Numbers stored as shares of a range in 16 bits, from an origin on; NaN where there is none.
  function numbers(packed, origin) {
    const shares = new Uint16Array(bytes(packed.values).buffer);
    const step = (packed.most - packed.least) / (noValue - 1);
    const first = packed.least - (origin || 0);
    const result = new Float32Array(shares.length);
    for (let i = 0; i < shares.length; ++i) {
      result[i] = shares[i] === noValue ? NaN : first + step * shares[i];
    }
    return result;
  }

  // An element of the page; text is set as text, so nothing in it can be taken for HTML.
  function element(tag, attributes, children) {
    const made = document.createElement(tag);
    for (const name of Object.keys(attributes || {})) {
      if (name === "text") made.textContent = attributes.text;
      else if (name.startsWith("on")) made.addEventListener(name.slice(2), attributes[name]);
      else if (attributes[name] !== false) made.setAttribute(name, attributes[name] === true ? "" : attributes[name]);
    }
    for (const child of children || []) made.append(child);
    return made;
  }

  function styleColour(name) {
    return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  }

  // charts: what draws each kind of chart, (holder, data).
  Object.assign(tidemark, { say, ticks, tickText, axisUnit, wholeNumbers, numbers, element, styleColour, shown, charts: {} });
})(window.tidemark);
