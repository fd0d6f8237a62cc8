// SPDX-License-Identifier: MIT
// Columns of numbers out of the page, and numbers as text.
'use strict';
const Meltlag = {};

(function () {
  function bytesOf(element) {
    const text = atob(element.textContent);
    const bytes = new Uint8Array(text.length);
    for (let i = 0; i < text.length; ++i) bytes[i] = text.charCodeAt(i);
    element.textContent = '';  // gives the memory back
    return bytes;
  }

  // A column of differences as multiples of its unit, as Float64Array. Missing: empty.
  Meltlag.column = function (id) {
    const element = document.getElementById(id);
    if (!element) return new Float64Array(0);
    const unit = Number(element.dataset.unit);
    const bytes = bytesOf(element);
    if (unit === 0) return new Float64Array(new Float32Array(bytes.buffer));
    let count = 0;
    for (let i = 0; i < bytes.length; ++i) count += bytes[i] < 128 ? 1 : 0;
    const out = new Float64Array(count);
    let now = 0;
    for (let i = 0, k = 0; k < count; ++k) {
      let byte = bytes[i++];
      let rest = byte & 127, shift = 7;
      // Up to four bytes fit an integer; longer ones, which are rare, are computed as doubles.
      while (byte > 127 && shift < 28) {
        byte = bytes[i++];
        rest |= (byte & 127) << shift;
        shift += 7;
      }
      if (byte > 127) {
        let factor = 268435456;
        do {
          byte = bytes[i++];
          rest += (byte & 127) * factor;
          factor *= 128;
        } while (byte > 127);
        now += rest % 2 === 0 ? rest / 2 : -(rest + 1) / 2;
      } else {
        now += (rest >> 1) ^ -(rest & 1);
      }
      out[k] = now * unit;
    }
    return out;
  };

  // First index in ascending `values` whose value is above `x`.
  Meltlag.above = function (values, x) {
    let low = 0, high = values.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (values[middle] > x) high = middle; else low = middle + 1;
    }
    return low;
  };

  Meltlag.clamp = (value, low, high) => Math.min(high, Math.max(low, value));
  Meltlag.percent = (share, digits) => (100 * share).toFixed(digits === undefined ? 1 : digits) + ' %';

  // "3 min 21.4 s"
  Meltlag.clock = function (seconds, digits) {
    const tenths = digits === undefined ? 1 : digits;
    if (seconds < 60) return seconds.toFixed(tenths) + ' s';
    const minutes = Math.floor(seconds / 60);
    const rest = (seconds - 60 * minutes).toFixed(tenths) + ' s';
    if (minutes < 60) return minutes + ' min ' + rest;
    return Math.floor(minutes / 60) + ' h ' + (minutes % 60) + ' min ' + rest;
  };

  Meltlag.colour = (name) => getComputedStyle(document.documentElement).getPropertyValue('--' + name).trim();

  // An element with attributes and children; text is never read as HTML.
  Meltlag.make = function (tag, attributes, children) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes || {})) {
      if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
      else element.setAttribute(name, value);
    }
    for (const child of children || []) element.append(child);
    return element;
  };
})();
