// Signs for gates, vents and places, drawn alike in the pictures and in their legend.
"use strict";

(function (tidemark) {
  // Shapes differ, so that they can be told apart without colour.
  const kinds = {
    gate: { words: "gate", colour: "--mark-gate" },
    vent: { words: "vent", colour: "--mark-vent" },
    last: { words: "last place, latest is 1", colour: "--mark-last" },
    dry: { words: "dry place, largest is 1", colour: "--mark-dry" },
    suspect: { words: "place to look at", colour: "--mark-last" },
    picked: { words: "picked place", colour: "--ink" },
  };

  function path(context, kind, x, y, r) {
    context.beginPath();
    if (kind === "gate") {
      context.moveTo(x - r, y - r * 0.8);
      context.lineTo(x + r, y - r * 0.8);
      context.lineTo(x, y + r);
      context.closePath();
    } else if (kind === "vent") {
      context.arc(x, y, r * 0.85, 0, 2 * Math.PI);
    } else if (kind === "last" || kind === "suspect") {
      context.moveTo(x, y - r);
      context.lineTo(x + r, y);
      context.lineTo(x, y + r);
      context.lineTo(x - r, y);
      context.closePath();
    } else if (kind === "dry") {
      context.moveTo(x - r * 0.8, y - r * 0.8);
      context.lineTo(x + r * 0.8, y + r * 0.8);
      context.moveTo(x + r * 0.8, y - r * 0.8);
      context.lineTo(x - r * 0.8, y + r * 0.8);
    } else {
      context.arc(x, y, r, 0, 2 * Math.PI);
      context.moveTo(x - r, y);
      context.lineTo(x + r, y);
      context.moveTo(x, y - r);
      context.lineTo(x, y + r);
    }
  }

  function draw(context, kind, x, y, r) {
    const colour = tidemark.styleColour(kinds[kind].colour);
    const isFilled = kind === "gate" || kind === "last";
    context.lineJoin = "round";
    path(context, kind, x, y, r);
    context.lineWidth = r * 0.9;
    context.strokeStyle = tidemark.styleColour("--paper");
    context.stroke();
    if (isFilled || kind === "vent" || kind === "suspect") {
      context.fillStyle = isFilled ? colour : tidemark.styleColour("--paper");
      context.fill();
    }
    context.lineWidth = r * 0.4;
    context.strokeStyle = colour;
    context.stroke();
  }

  const size = 15; // of a sign with its margin, in pixels of CSS

  // A canvas with the sign in its middle and a short text at its right.
  function picture(kind, text, ratio) {
    const font = "600 " + 12.5 + "px system-ui, sans-serif";
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
      context.font = font;
      context.textBaseline = "middle";
      context.lineJoin = "round";
      context.lineWidth = 3.5;
      context.strokeStyle = tidemark.styleColour("--paper");
      context.strokeText(text, half + size / 2 + 3, height / 2);
      context.fillStyle = tidemark.styleColour("--ink");
      context.fillText(text, half + size / 2 + 3, height / 2);
    }
    draw(context, kind, half, height / 2, size / 2);
    return { canvas, width: 2 * half, height };
  }

  // For the legend.
  function sign(kind) {
    const made = picture(kind, "", 2).canvas;
    made.className = "sign";
    made.setAttribute("aria-hidden", "true");
    return made;
  }

  Object.assign(tidemark, { markKinds: kinds, markPicture: picture, markSign: sign });
})(window.tidemark);
