// SPDX-License-Identifier: MIT
// Measured against predicted: a square with the line on which both are the same.
(function () {
  const left = 54, right = 10, top = 8, bottom = 40, leastBin = 5, bins = 40, reach = 24;

  function roundStep(range, most) {
    const ten = Math.pow(10, Math.floor(Math.log10(range / most)));
    return ten * [1, 2, 5, 10].find((m) => m * ten * most >= range * 0.9999);
  }

  // `rows`: predicted, measured, sd, count, unit, asExpected(i), number(value).
  class Scatter {
    constructor(canvas, rows) {
      this.canvas = canvas;
      this.rows = rows;
      this.order = Uint32Array.from(rows.predicted, (_, i) => i).sort((a, b) => rows.predicted[a] - rows.predicted[b]);
      let low = Infinity, high = -Infinity;
      for (const values of [rows.predicted, rows.measured]) {
        for (const value of values) {
          if (value < low) low = value;
          if (value > high) high = value;
        }
      }
      const beside = 0.05 * (high - low) || 0.1 * Math.abs(high) || 1;
      this.low = low >= 0 ? Math.max(0, low - beside) : low - beside;
      this.high = high + beside;
      this.band = this.expectedBand();
      this.chosen = null;
      this.draw();
    }
    // [predicted, expected deviation] over neighbours, which leave different things open each.
    expectedBand() {
      const rows = this.rows, out = [], size = Math.max(leastBin, Math.ceil(rows.count / bins));
      for (let from = 0; from < rows.count; from += size) {
        const to = Math.min(rows.count, from + size);
        let predicted = 0, squares = 0;
        for (let k = from; k < to; ++k) {
          predicted += rows.predicted[this.order[k]];
          squares += rows.sd[this.order[k]] * rows.sd[this.order[k]];
        }
        out.push([predicted / (to - from), Math.sqrt(squares / (to - from))]);
      }
      return [[this.low, out[0][1]], ...out, [this.high, out[out.length - 1][1]]];
    }
    x(value) { return left + (this.size - left - right) * (value - this.low) / (this.high - this.low); }
    y(value) { return this.size - bottom - (this.size - top - bottom) * (value - this.low) / (this.high - this.low); }
    nearest(x, y) {
      let best = null, least = reach * reach;
      for (let i = 0; i < this.rows.count; ++i) {
        const dx = this.x(this.rows.predicted[i]) - x, dy = this.y(this.rows.measured[i]) - y;
        if (dx * dx + dy * dy < least) { least = dx * dx + dy * dy; best = i; }
      }
      return best;
    }
    mark(i) {
      this.chosen = i;
      this.draw();
    }
    draw() {
      const canvas = this.canvas, scale = window.devicePixelRatio || 1;
      this.size = canvas.clientWidth || 400;
      canvas.width = canvas.height = Math.round(this.size * scale);
      const context = canvas.getContext('2d');
      context.scale(scale, scale);
      this.drawAxes(context);
      context.save();
      context.beginPath();
      context.rect(left, top, this.size - left - right, this.size - top - bottom);
      context.clip();
      this.drawBand(context);
      this.drawPoints(context);
      context.restore();
      if (this.chosen !== null) {
        context.strokeStyle = Meltlag.colour('ink');
        context.lineWidth = 2;
        context.beginPath();
        context.arc(this.x(this.rows.predicted[this.chosen]), this.y(this.rows.measured[this.chosen]), 8, 0, 2 * Math.PI);
        context.stroke();
      }
    }
    drawAxes(context) {
      const step = roundStep(this.high - this.low, this.size < 360 ? 4 : 6), end = this.size - bottom;
      const digits = Math.max(0, -Math.floor(Math.log10(step)));
      context.font = '13px system-ui, sans-serif';
      context.lineWidth = 1;
      context.strokeStyle = Meltlag.colour('line');
      context.fillStyle = Meltlag.colour('soft');
      context.beginPath();
      for (let k = Math.ceil(this.low / step); k * step <= this.high; ++k) {
        const value = k * step, x = Math.round(this.x(value)) + 0.5, y = Math.round(this.y(value)) + 0.5;
        context.moveTo(x, top);
        context.lineTo(x, end);
        context.moveTo(left, y);
        context.lineTo(this.size - right, y);
        context.textAlign = 'center';
        context.fillText(value.toFixed(digits), Math.min(x, this.size - 14), end + 16);
        context.textAlign = 'right';
        context.fillText(value.toFixed(digits), left - 6, y + 4);
      }
      context.stroke();
      context.textAlign = 'center';
      context.fillText('predicted, ' + this.rows.unit, (left + this.size - right) / 2, this.size - 6);
      context.save();
      context.translate(12, (top + end) / 2);
      context.rotate(-Math.PI / 2);
      context.fillText('measured, ' + this.rows.unit, 0, 0);
      context.restore();
    }
    drawBand(context) {
      context.globalAlpha = 0.18;
      context.fillStyle = context.strokeStyle = Meltlag.colour('wanted');
      context.beginPath();
      for (const [value, sd] of this.band) context.lineTo(this.x(value), this.y(value + 2 * sd));
      for (const [value, sd] of this.band.slice().reverse()) context.lineTo(this.x(value), this.y(value - 2 * sd));
      context.fill();
      context.globalAlpha = 1;
      context.lineWidth = 1.5;
      context.beginPath();
      context.moveTo(this.x(this.low), this.y(this.low));
      context.lineTo(this.x(this.high), this.y(this.high));
      context.stroke();
    }
    drawPoints(context) {
      const rows = this.rows, many = rows.count > 2000;
      for (const expected of [true, false]) {
        context.fillStyle = Meltlag.colour(expected ? 'measured' : 'mark');
        context.globalAlpha = many ? 0.7 : 1;
        context.beginPath();
        for (let i = 0; i < rows.count; ++i) {
          if (rows.asExpected(i) !== expected) continue;
          const x = this.x(rows.predicted[i]), y = this.y(rows.measured[i]);
          if (many) { context.rect(x - 1.2, y - 1.2, 2.4, 2.4); continue; }
          context.moveTo(x + 3, y);
          Meltlag.shapes[expected ? 'points' : 'diamonds'](context, x, y, 3);
        }
        context.fill();
      }
      context.globalAlpha = 1;
    }
  }
  Meltlag.Scatter = Scatter;
})();
