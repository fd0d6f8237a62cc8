// SPDX-License-Identifier: MIT
// What was measured on a print over what was predicted, as write_comparison_data() wrote it.
(function () {
  const byLine = 'G-code line, in the order of the print';

  // The rows of one kind in the order of the print. Along x they stand at their time, or one after the other.
  class Rows {
    constructor(spec, k, worst) {
      Object.assign(this, spec);
      this.index = k;
      const column = (name) => Meltlag.column('m' + k + '-' + name);
      for (const name of ['t', 'line', 'at', 'x', 'y', 'measured', 'predicted', 'without', 'wanted', 'sd']) this[name] = column(name);
      this.toLine = column('to-line');
      this.count = this.t.length;
      this.along = Float64Array.from(this.t, (t, i) => this.timed ? t : i);
      // Rows of one moment stand beside each other.
      for (let i = 1; i < this.count; ++i) this.along[i] = Math.max(this.along[i], this.along[i - 1] + 1e-6);
      this.curve = {t: column('curve-t'), predicted: column('curve-predicted'), wanted: column('curve-wanted')};
      this.worst = worst.map((w, number) => Object.assign({number: number + 1}, w)).filter((w) => w.kind === k);
      // Two digits of what is expected.
      const sd = this.sd.reduce((sum, value) => sum + value, 0) / this.count;
      this.digits = Meltlag.clamp(1 - Math.floor(Math.log10(sd || 0.01)), 0, 9);
    }
    off(i) { return this.measured[i] - this.predicted[i]; }
    asExpected(i) { return Math.abs(this.off(i)) <= 2 * this.sd[i] * (1 + 1e-6); }
    nearest(x) {
      const i = Meltlag.clamp(Meltlag.above(this.along, x), 1, Math.max(1, this.count - 1));
      return this.count > 1 && this.along[i] - x < x - this.along[i - 1] ? i : i - 1;
    }
    atLine(line) {
      let best = 0;
      for (let i = 1; i < this.count; ++i)
        if (Math.abs(this.line[i] - line) < Math.abs(this.line[best] - line)) best = i;
      return best;
    }
    number(value) { return value.toFixed(this.digits).replace('-', '−'); }
    words(i) {
      const to = this.toLine.length ? this.toLine[i] : 0, off = this.off(i);
      const place = this.line[i] <= 0 ? 'Beside the print' : to > this.line[i] ? 'Lines ' + this.line[i] + '–' + to : 'Line ' + this.line[i];
      const at = this.at.length && this.at[i] >= 0 ? ', ' + this.at[i].toFixed(1) + ' mm from its start' : '';
      const wanted = this.wanted[i] === this.wanted[i] ? ', wanted ' + this.number(this.wanted[i]) : '';
      return place + at + ' · ' + Meltlag.clock(Math.max(0, this.t[i])) + ' · X ' + this.x[i].toFixed(1) + ' Y ' + this.y[i].toFixed(1) +
             ' · measured ' + this.number(this.measured[i]) + ' ' + this.unit + ', predicted ' + this.number(this.predicted[i]) +
             ', without lag ' + this.number(this.without[i]) + wanted + ' · off by ' + (off > 0 ? '+' : '') + this.number(off) +
             ', expected ± ' + this.number(2 * this.sd[i]) + (this.asExpected(i) ? '' : ': more than expected');
    }
  }

  // All rows, and those that are off by more than expected.
  function split(rows, value) {
    const all = new Float32Array(rows.count), beyond = new Float32Array(rows.count).fill(NaN);
    for (let i = 0; i < rows.count; ++i) {
      all[i] = value(i);
      if (!rows.asExpected(i)) beyond[i] = all[i];
    }
    return [all, beyond];
  }

  // Moments of the curve and of the rows in one order; what a series does not know there is NaN.
  function overCurve(rows) {
    const curve = rows.curve, n = curve.t.length + rows.count;
    const out = {x: new Float64Array(n), predicted: new Float32Array(n), wanted: new Float32Array(n), row: new Int32Array(n)};
    for (let i = 0, c = 0, r = 0; i < n; ++i) {
      const isRow = c >= curve.t.length || r < rows.count && rows.along[r] <= curve.t[c];
      const from = isRow ? rows : curve, k = isRow ? r++ : c++;
      out.x[i] = Math.max(isRow ? rows.along[k] : curve.t[k], i > 0 ? out.x[i - 1] + 1e-9 : -Infinity);
      out.predicted[i] = from.predicted[k];
      out.wanted[i] = from.wanted.length ? from.wanted[k] : NaN;
      out.row[i] = isRow ? k : -1;
    }
    return out;
  }

  // Ticks at rows or round times that say the line there.
  function lineTicks(rows) {
    return function (a, b, pixels) {
      const most = Math.max(2, pixels / 80), ten = Math.pow(10, Math.floor(Math.log10((b - a) / most)));
      const rough = ten * [1, 2, 5, 10].find((m) => m * ten * most >= (b - a) * 0.9999);
      const step = rows.timed ? rough : Math.max(1, Math.round(rough));
      const out = [];
      for (let k = Math.ceil(a / step), last = null; k * step <= b; ++k) {
        if (!rows.timed && (k < 0 || k * step >= rows.count)) continue;
        const line = rows.line[rows.nearest(k * step)];
        out.push({v: k * step, label: line === last ? '' : line > 0 ? String(line) : '–'});
        last = line;
      }
      return out;
    };
  }

  // The three pictures of one kind; a row that is chosen in one shows in all.
  class Measured {
    constructor(rows, hosts) {
      this.rows = rows;
      const n = rows.count, along = rows.along, end = rows.timed && rows.curve.t.length ? rows.curve.t : along;
      const beside = rows.timed ? 0.01 * (along[n - 1] - along[0]) || 1 : 0.6;
      this.group = new Meltlag.Linked(Math.min(along[0], end[0]) - beside, Math.max(along[n - 1], end[end.length - 1]) + beside);
      Meltlag.groups.push(this.group);
      this.readouts = {};
      this.charts = [this.over(hosts.over), this.offBy(hosts.off)];
      this.scatter = this.against(hosts.against);
      this.group.refresh();
    }
    points() {
      return [{name: 'measured', role: 'measured', stroke: 'points'},
              {name: 'off by more than expected', role: 'mark', stroke: 'diamonds'}];
    }
    over(host) {
      const rows = this.rows, line = rows.timed ? 'line' : 'levels';
      const series = [{name: 'wanted', role: 'wanted', width: 1.2, stroke: line},
                      {name: 'predicted', role: 'after', stroke: line, width: 2}, ...this.points()];
      const all = rows.timed ? overCurve(rows) : {x: rows.along, predicted: rows.predicted, wanted: rows.wanted, row: rows.along};
      const [measured, beyond] = split(rows, (i) => rows.measured[i]);
      const spread = (values) => Float32Array.from(all.row, (r) => r < 0 ? NaN : values[r]);
      const bars = Float32Array.from(all.row, (r) => r < 0 ? 0 : 2 * rows.sd[r]);
      const source = new Meltlag.Source(all.x, [all.wanted, all.predicted, spread(measured), spread(beyond)], rows.timed ? 'line' : 'points', [2, 3]);
      source.plusMinus = [null, null, bars, bars];
      source.within = {3: 2};
      const ticks = rows.timed ? {time: true, x_label: 'planned time'} : {ticker: lineTicks(rows), x_label: byLine};
      return this.chart(host, 'over', 'Measured over predicted: ' + rows.name, series, source, ticks);
    }
    offBy(host) {
      const rows = this.rows, [off, beyond] = split(rows, (i) => rows.off(i));
      const series = [{name: 'expected, ± two deviations', role: 'wanted', width: 1.2, stroke: 'dashed'},
                      ...this.points().map((s) => s.role === 'measured' ? Object.assign(s, {name: 'off by'}) : s)];
      const source = new Meltlag.Source(rows.along, [new Float32Array(rows.count), off, beyond], 'points');
      source.within = {2: 1};
      source.plusMinus = [Float32Array.from(rows.sd, (sd) => 2 * sd), null, null];
      return this.chart(host, 'off', 'Off by: ' + rows.name, series, source,
                        {ticker: lineTicks(rows), x_label: byLine, behind: (context, area, g) => this.stripes(context, area, g)});
    }
    chart(host, name, title, series, source, more) {
      const plot = Meltlag.make('div', {class: 'plot', role: 'img', id: 'm' + this.rows.index + '-plot-' + name, 'aria-label':
          title + '. Arrow keys move, + and - zoom, N and P go to the next and the previous row.'});
      plot.addEventListener('keydown', (event) => this.step(event, {n: 1, N: 1, p: -1, P: -1}, name));
      const tools = Meltlag.make('div', {class: 'tools'}, [Meltlag.zoomTools(this.group, title),
          Meltlag.jumpTo('Line', (line) => this.choose(this.rows.atLine(line), name), 'm' + this.rows.index + '-line-' + name)]);
      host.append(Meltlag.make('figure', {class: 'chart'},
                               [Meltlag.make('figcaption', {}, [title]),
                                Meltlag.make('div', {class: 'legend'}, Meltlag.legend(series)), tools, plot]), this.readout(name));
      const spec = Object.assign({series: series, y_label: this.rows.unit, onHover: (x) => this.hover(x === null ? null : this.rows.nearest(x), name),
                                  onClick: (x) => this.choose(this.rows.nearest(x), name)}, more);
      return new Meltlag.Chart(this.group, plot, spec, source);
    }
    against(host) {
      const rows = this.rows, title = 'Measured against predicted: ' + rows.name;
      const canvas = Meltlag.make('canvas', {tabindex: 0, role: 'img', 'aria-label': title + '. Arrow keys go to the next and the previous row.'});
      canvas.addEventListener('keydown', (event) => this.step(event, {ArrowRight: 1, ArrowLeft: -1, n: 1, p: -1}, 'against'));
      host.append(Meltlag.make('figure', {class: 'scatter'}, [Meltlag.make('figcaption', {}, [title]),
                   Meltlag.make('div', {class: 'legend'}, Meltlag.legend(this.points())), canvas]), this.readout('against'));
      const scatter = new Meltlag.Scatter(canvas, rows);
      canvas.addEventListener('pointermove', (event) => this.hover(scatter.nearest(event.offsetX, event.offsetY), 'against'));
      canvas.addEventListener('pointerleave', () => this.hover(null, 'against'));
      canvas.addEventListener('click', (event) => {
        const i = scatter.nearest(event.offsetX, event.offsetY);
        if (i !== null) this.choose(i, 'against');
      });
      return scatter;
    }
    readout(name) {
      const text = Meltlag.make('p', {class: 'readout', 'aria-live': 'polite'}, []);
      this.readouts[name] = text;
      this.hover(null, name);
      return text;
    }
    hint(name) {
      return name === 'against' ? 'Point at a row to read it; click to see it above.'
          : 'Point at a row to read it, click to keep it. Drag to zoom in, hold Shift to move (two fingers on a touch screen); a double click shows all.';
    }
    hover(i, name) {
      const shown = i === null ? this.chosen : i;
      this.readouts[name].textContent = shown === undefined ? this.hint(name) : this.rows.words(shown);
    }
    step(event, by, name) {
      if (!by[event.key] || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      const next = this.chosen === undefined ? 0 : this.chosen + by[event.key];
      this.choose(Meltlag.clamp(next, 0, this.rows.count - 1), name);
    }
    choose(i, name) {
      this.chosen = i;
      const x = this.rows.along[i], [a, b] = this.group.range;
      this.group.mark = x;
      if (x < a || x > b) this.group.setRange(x - (b - a) / 2, x + (b - a) / 2);
      else this.group.refresh();
      this.scatter.mark(i);
      this.hover(i, name);
    }
    // A stretch with as much again on both sides.
    show(stretch) {
      const along = this.rows.along, first = along[stretch.first], last = along[stretch.first + stretch.rows - 1];
      const beside = Math.max(last - first, this.rows.timed ? 5 : 4);
      this.group.setRange(first - beside, last + beside);
      let most = stretch.first;
      for (let i = stretch.first; i < stretch.first + stretch.rows; ++i)
        if (Math.abs(this.rows.off(i)) > Math.abs(this.rows.off(most))) most = i;
      this.choose(most, 'off');
    }
    // The worst stretches behind the picture, numbered as in the table.
    stripes(context, area, g) {
      const along = this.rows.along, half = this.rows.timed ? 0 : 0.5;
      context.font = '12px system-ui, sans-serif';
      context.textAlign = 'center';
      let end = -Infinity;
      for (const w of this.rows.worst.slice().sort((v, u) => v.first - u.first)) {
        const from = g.toDomXCoord(along[w.first] - half), to = g.toDomXCoord(along[w.first + w.rows - 1] + half);
        const left = Meltlag.clamp(Math.min(from, (from + to) / 2 - 1.5), area.x, area.x + area.w);
        const right = Meltlag.clamp(Math.max(to, (from + to) / 2 + 1.5), area.x, area.x + area.w);
        if (right <= left) continue;
        context.fillStyle = Meltlag.colour('ghost');
        context.fillRect(left, area.y, right - left, area.h);
        context.fillStyle = Meltlag.colour('soft');
        context.fillRect(left, area.y, right - left, 3);
        const middle = Meltlag.clamp((left + right) / 2, area.x + 5, area.x + area.w - 5);
        if (middle - 6 > end) context.fillText(String(w.number), middle, area.y + 16);
        end = Math.max(end, middle + 6);
      }
    }
    recolour() {
      for (const chart of this.charts) chart.recolour();
      this.scatter.draw();
    }
  }

  function addShowButtons(all, worst) {
    const head = document.querySelector('#worst thead tr');
    if (!head) return;
    head.append(Meltlag.make('th', {scope: 'col'}, []));
    document.querySelectorAll('#worst tbody tr').forEach((row, k) => {
      const show = () => {
        for (const other of row.parentNode.children) other.classList.remove('chosen');
        row.classList.add('chosen');
        const measured = all[worst[k].kind];
        measured.show(worst[k]);
        measured.charts[1].plot.closest('figure').scrollIntoView({block: 'start'});
      };
      row.append(Meltlag.make('td', {class: 'go'}, [Meltlag.make('button', {type: 'button', class: 'show', onclick: show,
                                                                            'aria-label': 'Show stretch ' + (k + 1)}, ['Show'])]));
    });
  }

  // All kinds of the page; none on pages of other commands.
  Meltlag.drawMeasured = function () {
    const element = document.getElementById('m-rest');
    if (!element) return [];
    const rest = JSON.parse(element.textContent);
    const host = (k, picture) => document.querySelector('.measured[data-kind="' + k + '"][data-picture="' + picture + '"]');
    const all = rest.kinds.map((spec, k) => new Measured(new Rows(spec, k, rest.worst),
                                                         {over: host(k, 'over'), off: host(k, 'off'), against: host(k, 'against')}));
    addShowButtons(all, rest.worst);
    window.addEventListener('resize', () => { for (const measured of all) measured.scatter.draw(); });
    return all;
  };
})();
