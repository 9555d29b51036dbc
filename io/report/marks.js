// Signs for gates, vents and places, drawn alike in the pictures and in their legend.
"use strict";

(function (tidemark) {
  // like: the kind whose sign it has.
  // Shapes differ, so that they can be told apart without colour; they are those of the drawn pictures.
  const kinds = {
    gate: { words: "gate", colour: "--mark-gate" },
    vent: { words: "vent", colour: "--mark-vent" },
    last: { words: "last place, latest is 1", colour: "--mark-last" },
    dry: { words: "dry place, largest is A", colour: "--mark-dry" },
    often_dry: { words: "place that stays dry, most often is 1", colour: "--mark-dry", like: "dry" },
    often_late: { words: "place among the last to fill, most often is 1", colour: "--mark-last", like: "last" },
    suspect: { words: "place to look at, by its letter", colour: "--mark-dry" },
    layout: { words: "gate of the layout of that number", colour: "--mark-last" },
    vent_may_be: { words: "farthest place tried that the vent may move to", colour: "--mark-vent", like: "layout" },
    vent_shuts_in: { words: "nearest place tried where it shuts in too much air", colour: "--mark-dry", like: "suspect" },
    picked: { words: "picked place", colour: "--ink" },
  };

  function path(context, kind, x, y, r) {
    context.beginPath();
    if (kind === "vent") {
      context.moveTo(x - r, y + r * 0.8);
      context.lineTo(x + r, y + r * 0.8);
      context.lineTo(x, y - r);
      context.closePath();
    } else if (kind === "gate") {
      context.arc(x, y, r * 0.9, 0, 2 * Math.PI);
    } else if (kind === "last") {
      context.arc(x, y, r * 0.45, 0, 2 * Math.PI); // at a vent it shows within its triangle
    } else if (kind === "dry" || kind === "suspect") {
      context.moveTo(x, y - r);
      context.lineTo(x + r, y);
      context.lineTo(x, y + r);
      context.lineTo(x - r, y);
      context.closePath();
    } else if (kind === "layout") {
      context.rect(x - r * 0.7, y - r * 0.7, r * 1.4, r * 1.4);
    } else {
      context.arc(x, y, r, 0, 2 * Math.PI);
      context.moveTo(x - r, y);
      context.lineTo(x + r, y);
      context.moveTo(x, y - r);
      context.lineTo(x, y + r);
    }
  }

  function draw(context, named, x, y, r) {
    const colour = tidemark.styleColour(kinds[named].colour);
    const kind = kinds[named].like || named;
    const isFilled = kind === "gate" || kind === "dry" || kind === "layout" || kind === "last";
    context.lineJoin = "round";
    path(context, kind, x, y, r);
    context.lineWidth = r * 0.65;
    context.strokeStyle = tidemark.styleColour("--paper");
    context.stroke();
    if (kind !== "picked" && kind !== "vent") {
      context.fillStyle = isFilled ? colour : tidemark.styleColour("--paper");
      context.fill();
    }
    context.lineWidth = r * 0.32;
    context.strokeStyle = colour;
    context.stroke();
    if (kind === "gate") {
      context.beginPath();
      context.arc(x, y, r * 0.35, 0, 2 * Math.PI);
      context.fillStyle = tidemark.styleColour("--paper");
      context.fill();
    }
  }

  const size = 16; // of a sign with its margin, in pixels of CSS

  // A canvas with the sign in its middle and a short text at a side of it.
  function picture(kind, text, ratio, isTextLeft) {
    const font = "600 12.5px system-ui, sans-serif";
    const canvas = document.createElement("canvas");
    let context = canvas.getContext("2d");
    context.font = font;
    const textWidth = text ? Math.ceil(context.measureText(text).width) + 8 : 0;
    const half = size / 2 + 3 + textWidth;
    const height = size + 8;
    canvas.width = Math.ceil(2 * half * ratio);
    canvas.height = Math.ceil(height * ratio);
    context = canvas.getContext("2d");
    context.scale(ratio, ratio);
    if (text) {
      const x = half + (isTextLeft ? -1 : 1) * (size / 2 + 4);
      context.font = font;
      context.textAlign = isTextLeft ? "right" : "left";
      context.textBaseline = "middle";
      context.lineJoin = "round";
      context.lineWidth = 3.5;
      context.strokeStyle = tidemark.styleColour("--paper");
      context.strokeText(text, x, height / 2);
      context.fillStyle = tidemark.styleColour("--ink");
      context.fillText(text, x, height / 2);
    }
    draw(context, kind, half, height / 2, size / 2);
    return { canvas, width: 2 * half, height };
  }

  // For the legend.
  function sign(kind) {
    const made = picture(kind, "", 2, false).canvas;
    made.className = "sign";
    made.setAttribute("aria-hidden", "true");
    return made;
  }

  Object.assign(tidemark, { markKinds: kinds, markPicture: picture, markSign: sign });
})(window.tidemark);
