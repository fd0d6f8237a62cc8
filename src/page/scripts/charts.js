// SPDX-License-Identifier: MIT
// Line charts of any length: what is drawn has as many points as the screen has columns. Beyond that a
// line is the mean and the band around it the range of what lies in each column.
(function () {
  const block = 32;
  const beside = 60;  // columns for what is out of sight

  // `x` ascends. Form 'steps': the value i holds from x[i] to x[i + 1]; 'line': the value at x[i], means
  // are over x; 'points': means are over points, as of `pointSeries` (indices) in any form.
  class Source {
    constructor(x, series, form, pointSeries) {
      this.x = x;
      this.series = series;  // Float32Array or Float64Array each
      this.steps = form === 'steps';
      this.overX = form !== 'points';
      this.points = new Set((pointSeries || []).map((k) => series[k]));
      this.blocks = series.map((y) => this.summarise(y));
    }
    summarise(y) {
      const count = Math.ceil(y.length / block);
      const out = {low: new Float32Array(count), high: new Float32Array(count),
                   sum: new Float64Array(count), weight: new Float64Array(count)};
      for (let b = 0; b < count; ++b) {
        const s = {low: Infinity, high: -Infinity, sum: 0, weight: 0};
        this.scan(y, b * block, Math.min(y.length, (b + 1) * block), s);
        out.low[b] = s.low; out.high[b] = s.high; out.sum[b] = s.sum; out.weight[b] = s.weight;
      }
      return out;
    }
    scan(y, from, to, s) {
      const x = this.x, overX = this.overX && !this.points.has(y);
      let low = s.low, high = s.high, sum = 0, weight = 0;
      for (let i = from; i < to; ++i) {
        const value = y[i], w = overX && i + 1 < x.length ? x[i + 1] - x[i] : 1;
        if (!(value === value) || w <= 0) continue;
        if (value < low) low = value;
        if (value > high) high = value;
        sum += w * value;
        weight += w;
      }
      s.low = low;
      s.high = high;
      s.sum += sum;
      s.weight += weight;
    }
    sums(k, from, to) {
      const s = {low: Infinity, high: -Infinity, sum: 0, weight: 0};
      const y = this.series[k], blocks = this.blocks[k];
      let first = Math.ceil(from / block), last = Math.floor(to / block);
      if (first >= last) {
        this.scan(y, from, to, s);
      } else {
        this.scan(y, from, first * block, s);
        for (let b = first; b < last; ++b) {
          s.low = Math.min(s.low, blocks.low[b]);
          s.high = Math.max(s.high, blocks.high[b]);
          s.sum += blocks.sum[b];
          s.weight += blocks.weight[b];
        }
        this.scan(y, last * block, to, s);
      }
      return s;
    }
    // Low, mean, high over the values from..to.
    summary(k, from, to) {
      const s = this.sums(k, from, to), y = this.series[k];
      if (s.weight <= 0) return [null, null, null];
      // A series of some points of another one speaks for a column where it holds most of them.
      const whole = this.within && this.within[k];
      if (whole !== undefined && s.weight < 0.5 * this.sums(whole, from, to).weight) return [null, null, null];
      const mean = s.sum / s.weight, pm = this.plusMinus && this.plusMinus[k];
      if (!pm || s.low < s.high) return [s.low, mean, s.high];  // several: their range
      let i = from;
      while (!(y[i] === y[i])) ++i;
      return [mean - pm[i], mean, mean + pm[i]];
    }
    bars(k, i) {
      const value = this.series[k][i];
      if (!(value === value)) return [null, null, null];
      const pm = this.plusMinus && this.plusMinus[k] ? this.plusMinus[k][i] || 0 : 0;
      return [value - pm, value, value + pm];
    }
    // Appends rows for a..b in at most about `columns` columns.
    rows(out, a, b, columns) {
      const n = this.x.length;
      const from = Math.max(0, Meltlag.above(this.x, a) - 1), to = Math.min(n, Meltlag.above(this.x, b) + 1);
      if (to - from <= 2 * columns) {
        for (let i = from; i < to; ++i) {
          if (this.steps && i + 1 < n && this.x[i + 1] <= this.x[i]) continue;  // takes no time
          out.push([this.x[i], ...this.series.map((_, k) => this.bars(k, i))]);
        }
        return;
      }
      let start = from;
      for (let c = 0; c < columns && start < to; ++c) {
        const edge = a + (b - a) * (c + 1) / columns;
        const end = c === columns - 1 ? to : Math.min(to, Math.max(start + 1, Meltlag.above(this.x, edge)));
        out.push([this.x[start], ...this.series.map((_, k) => this.summary(k, start, end))]);
        start = end;
      }
    }
    // The window in full and half of one on both sides, the rest coarsely.
    view(a, b, columns) {
      const out = [], n = this.x.length;
      if (n === 0) return [[0, ...this.series.map(() => [null, null, null])]];
      const left = this.x[0], right = this.x[n - 1], width = b - a;
      const near = Math.max(left, a - width / 2), far = Math.min(right, b + width / 2);
      if (near > left) this.rows(out, left, near, beside);
      this.rows(out, near, far, Math.ceil(columns * (far - near) / width));
      if (far < right) this.rows(out, far, right, beside);
      let last = -Infinity;
      return out.filter((row) => { const keep = row[0] > last; last = Math.max(last, row[0]); return keep; });
    }
  }
  Meltlag.Source = Source;

  // Ticks at round times.
  const roundTimes = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600,
                      7200, 14400, 28800, 86400];
  function timeTicks(a, b, pixels) {
    const most = Math.max(2, pixels / 90);
    const step = roundTimes.find((s) => (b - a) / s <= most) || 86400 * Math.ceil((b - a) / 86400 / most);
    const out = [];
    for (let k = Math.ceil(a / step); k * step <= b; ++k) {
      const t = k * step;
      const digits = step < 0.1 ? 2 : step < 1 ? 1 : 0;
      const minutes = Math.floor((t + 1e-9) / 60), seconds = Math.max(0, t - 60 * minutes);
      const label = minutes === 0 || step < 60 && b - a < 60 && minutes === 0 ? seconds.toFixed(digits) + ' s'
          : step >= 60 ? minutes + ' min'
          : minutes + ':' + seconds.toFixed(digits).padStart(digits ? digits + 3 : 2, '0');
      out.push({v: t, label: label});
    }
    return out;
  }

  // How points look; diamonds are told from circles without colours.
  const shapes = {
    points: (context, x, y, r) => context.arc(x, y, r, 0, 2 * Math.PI),
    diamonds: (context, x, y, r) => {
      context.moveTo(x, y - 1.7 * r);
      context.lineTo(x + 1.7 * r, y);
      context.lineTo(x, y + 1.7 * r);
      context.lineTo(x - 1.7 * r, y);
    }
  };
  Meltlag.shapes = shapes;
  // Where points stand close they are drawn small, so that curves show through.
  function pointsPlotter(shape, e) {
    const context = e.drawingContext, shown = e.points.filter((p) => p.canvasy === p.canvasy && p.yval !== null);
    const close = shown.length * 8 > e.plotArea.w, r = close ? 1.8 : 3;
    context.fillStyle = context.strokeStyle = e.color;
    context.lineWidth = close ? 1 : 1.2;
    for (const p of shown) {
      const top = e.plotArea.y + p.y_bottom * e.plotArea.h, bottom = e.plotArea.y + p.y_top * e.plotArea.h;
      context.globalAlpha = close ? 0.45 : 1;
      context.beginPath();
      if (top === top && bottom - top > 1) {
        for (const y of close ? [] : [top, bottom]) {
          context.moveTo(p.canvasx - 3, y);
          context.lineTo(p.canvasx + 3, y);
        }
        context.moveTo(p.canvasx, top);
        context.lineTo(p.canvasx, bottom);
        context.stroke();
        context.beginPath();
      }
      context.globalAlpha = 1;
      shapes[shape](context, p.canvasx, p.canvasy, r);
      context.fill();
    }
  }
  // A level for each whole x.
  function levelsPlotter(e) {
    const context = e.drawingContext, g = e.dygraph;
    const half = Meltlag.clamp(0.5 * (g.toDomXCoord(1) - g.toDomXCoord(0)), 1, 14);
    context.strokeStyle = e.color;
    context.lineWidth = e.strokeWidth;
    context.beginPath();
    for (const p of e.points) {
      if (p.canvasy !== p.canvasy || p.yval === null) continue;
      context.moveTo(p.canvasx - half, p.canvasy);
      context.lineTo(p.canvasx + half, p.canvasy);
    }
    context.stroke();
  }
  const plotters = {points: (e) => pointsPlotter('points', e), diamonds: (e) => pointsPlotter('diamonds', e),
                    levels: levelsPlotter};

  function touchOnly(name) {
    // One finger scrolls the page; two zoom and pan the chart.
    return function (event, g, context) {
      if (event.touches.length >= 2 || context.initialTouches && context.initialTouches.length >= 2) {
        Dygraph.defaultInteractionModel[name](event, g, context);
      }
    };
  }
  function interaction() {
    return Object.assign({}, Dygraph.defaultInteractionModel,
                         {touchstart: touchOnly('touchstart'), touchmove: touchOnly('touchmove'),
                          dblclick: undefined});
  }

  // Charts over one range of x.
  class Linked {
    constructor(low, high) {
      this.low = low;
      this.high = Math.max(high, low + 1e-6);
      this.range = [this.low, this.high];
      this.charts = [];
      this.mark = null;
      this.pending = this.moving = false;
      this.lastMove = -Infinity;
    }
    setExtent(low, high) {
      this.low = low;
      this.high = Math.max(high, low + 1e-6);
      this.setRange(low, high);
    }
    setRange(a, b) {
      const whole = this.high - this.low;
      const width = Meltlag.clamp(b - a, Math.min(whole, 1e-3), whole);
      const start = Meltlag.clamp(a, this.low, this.high - width);
      this.range = [start, start + width];
      // While more of the same follows at once, a coarser picture keeps up with the hand.
      const now = performance.now();
      this.moving = now - this.lastMove < 250;
      this.lastMove = now;
      clearTimeout(this.later);
      if (this.moving) {
        this.later = setTimeout(() => {
          this.moving = false;
          this.refresh();
        }, 200);
      }
      this.refresh();
    }
    zoom(factor) {
      const middle = this.mark !== null && this.mark > this.range[0] && this.mark < this.range[1]
          ? this.mark : (this.range[0] + this.range[1]) / 2;
      const half = (this.range[1] - this.range[0]) * factor / 2;
      this.setRange(middle - half, middle + half);
    }
    pan(share) {
      const step = share * (this.range[1] - this.range[0]);
      this.setRange(this.range[0] + step, this.range[1] + step);
    }
    whole() { this.setRange(this.low, this.high); }
    setMark(x) {
      this.mark = x;
      this.refresh();
    }
    refresh() {
      if (this.pending) return;
      this.pending = true;
      requestAnimationFrame(() => {
        this.pending = false;
        for (const chart of this.charts) chart.draw();
      });
    }
    key(event) {
      const steps = {ArrowLeft: () => this.pan(-0.2), ArrowRight: () => this.pan(0.2), '+': () => this.zoom(0.6),
                     '=': () => this.zoom(0.6), '-': () => this.zoom(1 / 0.6), Home: () => this.whole()};
      if (!steps[event.key] || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      steps[event.key]();
    }
  }
  Meltlag.Linked = Linked;

  // Never one label alone, nor several that read alike: a low chart of small values showed only "0".
  function valueTicks(low, high, pixels, options, dygraph, values) {
    const usual = Dygraph.numericTicks(low, high, pixels, options, dygraph, values);
    const labels = usual.filter((tick) => tick.label !== undefined && tick.label !== '').map((tick) => tick.label);
    if (labels.length >= 2 && new Set(labels).size === labels.length) return usual;
    const step = Math.pow(10, Math.floor(Math.log10((high - low) / 2)));
    const by = step * [5, 2, 1].find((m) => m * step <= (high - low) / 2);
    const out = [];
    for (let k = Math.ceil(low / by - 1e-9); k * by <= high * (1 + 1e-9); ++k)
      out.push({v: k * by, label: k === 0 ? '0' : String(Number((k * by).toPrecision(6)))});
    return out;
  }

  // One chart of a group. `spec`: names, roles, strokes, labels, valueRange, time (x are seconds).
  class Chart {
    constructor(group, plot, spec, source) {
      this.group = group;
      this.plot = plot;
      this.spec = spec;
      this.source = source;
      this.shown = spec.series.map(() => true);
      this.busy = true;
      this.dygraph = new Dygraph(plot, this.rows(), this.options());
      this.busy = false;
      group.charts.push(this);
      plot.tabIndex = 0;
      plot.addEventListener('keydown', (event) => group.key(event));
      plot.addEventListener('dblclick', () => group.whole());
    }
    rows() {
      return this.source.view(this.group.range[0], this.group.range[1], Math.max(100, this.plot.clientWidth * (this.group.moving ? 0.25 : 0.6) | 0));
    }
    options() {
      const spec = this.spec, series = {}, group = this.group;
      for (const s of spec.series) {
        series[s.name] = {strokeWidth: s.width || 1.6};
        if (s.stroke === 'dashed') series[s.name].strokePattern = [6, 4];
        if (plotters[s.stroke]) series[s.name].plotter = plotters[s.stroke];
      }
      return {
        labels: ['x', ...spec.series.map((s) => s.name)], series: series, customBars: true,
        stepPlot: this.source.steps, legend: 'never', dateWindow: group.range.slice(), valueRange: spec.valueRange || null,
        ylabel: spec.y_label, xlabel: spec.x_label || null, yLabelWidth: 20, xLabelHeight: 20, highlightCircleSize: 3,
        rightGap: 8, interactionModel: interaction(), animatedZooms: false, connectSeparatedPoints: false,
        axes: {x: spec.ticker || spec.time ? {ticker: spec.ticker || timeTicks, axisLabelWidth: 80} : {axisLabelWidth: 70},
               y: {axisLabelWidth: 44, pixelsPerLabel: 26, ticker: valueTicks}},
        ...this.colours(),
        drawCallback: (g) => this.drawn(g),
        highlightCallback: (event, x) => spec.onHover && spec.onHover(x),
        unhighlightCallback: () => spec.onHover && spec.onHover(null),
        clickCallback: (event, x) => spec.onClick && spec.onClick(this.dygraph.toDataXCoord(event.offsetX)),
        underlayCallback: (context, area, g) => this.underlay(context, area, g)
      };
    }
    colours() {
      return {colors: this.spec.series.map((s) => Meltlag.colour(s.role)), fillAlpha: 0.18,
              gridLineColor: Meltlag.colour('line'), axisLineColor: Meltlag.colour('line')};
    }
    drawn(g) {
      if (this.busy) return;
      const now = g.xAxisRange(), last = this.group.range, width = last[1] - last[0];
      if (Math.abs(now[0] - last[0]) + Math.abs(now[1] - last[1]) > 1e-6 * width) this.group.setRange(now[0], now[1]);
    }
    underlay(context, area, g) {
      if (this.spec.behind) this.spec.behind(context, area, g);
      if (this.group.mark === null) return;
      const x = g.toDomXCoord(this.group.mark);
      if (x < area.x || x > area.x + area.w) return;
      context.fillStyle = Meltlag.colour('mark');
      context.fillRect(x - 1, area.y, 2, area.h);
    }
    draw() {
      this.busy = true;
      const options = {file: this.rows(), dateWindow: this.group.range.slice()};
      if (this.spec.fit) options.valueRange = this.spec.fit(this.group.range);
      this.dygraph.updateOptions(options);
      this.busy = false;
    }
    recolour() { this.dygraph.updateOptions(this.colours()); }
    resize() { this.dygraph.resize(); }
    show(k, visible) {
      this.busy = true;
      this.dygraph.setVisibility(k, visible);
      this.busy = false;
    }
  }
  Meltlag.Chart = Chart;
  Meltlag.groups = [];  // drawn anew when the window changes

  Meltlag.legend = function (series) {
    return series.map((s) => {
      const line = Meltlag.make('i', {class: (s.stroke || 'line') + (s.width < 1.5 ? ' thin' : ''),
                                      style: 'color: var(--' + s.role + ')'});
      return Meltlag.make('span', {}, [line, s.name]);
    });
  };

  // Zoom and pan for those without a mouse.
  Meltlag.zoomTools = function (group, what) {
    const button = (text, label, action) =>
        Meltlag.make('button', {type: 'button', 'aria-label': label, title: label, onclick: action}, [text]);
    return Meltlag.make('div', {class: 'group', role: 'group', 'aria-label': 'Zoom ' + what},
                        [button('−', 'Zoom out', () => group.zoom(1 / 0.5)),
                         button('+', 'Zoom in', () => group.zoom(0.5)),
                         button('◀', 'Back', () => group.pan(-0.5)), button('▶', 'On', () => group.pan(0.5)),
                         button('All', 'Show all', () => group.whole())]);
  };

  // A number to type and a button that goes there.
  Meltlag.jumpTo = function (name, go, id) {
    const input = Meltlag.make('input', {type: 'number', min: 1, 'aria-label': 'Go to ' + name.toLowerCase(),
                                         placeholder: name.toLowerCase(), id: id || 'go-' + name.toLowerCase()});
    const submit = (event) => {
      event.preventDefault();
      if (input.value) go(Number(input.value));
    };
    return Meltlag.make('form', {onsubmit: submit}, [input, Meltlag.make('button', {}, ['Go to ' + name.toLowerCase()])]);
  };

  // <figure class="chart" data-chart='{…}'>, as written by write_chart.
  Meltlag.drawChartBlock = function (figure) {
    const spec = JSON.parse(figure.dataset.chart);
    const x = Meltlag.column(spec.x);
    const form = ['steps', 'points'].find((f) => spec.series.every((s) => s.stroke === f)) || 'line';
    const source = new Meltlag.Source(x, spec.series.map((s) => Meltlag.column(s.y)), form,
                                      [...spec.series.keys()].filter((k) => spec.series[k].stroke === 'points'));
    source.plusMinus = spec.series.map((s) => s.plus_minus ? Meltlag.column(s.plus_minus) : null);
    const low = x.length ? x[0] : 0, high = x.length ? x[x.length - 1] : 1;
    // Points at the ends shall be whole.
    const beside = spec.series.some((s) => s.stroke === 'points') ? 0.02 * (high - low) || 1 : 0;
    const group = new Meltlag.Linked(low - beside, high + beside);
    Meltlag.groups.push(group);
    figure.querySelector('.legend').append(...Meltlag.legend(spec.series));
    figure.querySelector('.plot').before(Meltlag.make('div', {class: 'tools'}, [Meltlag.zoomTools(group, 'the chart')]));
    return new Meltlag.Chart(group, figure.querySelector('.plot'), spec, source);
  };
})();
