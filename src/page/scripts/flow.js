// SPDX-License-Identifier: MIT
// Flow, screw and run-on over time, linked.
(function () {
  // What all but the shortest moments in from..to stay below: from a sample weighted by time.
  function most(t, values, share, from, to) {
    const sample = [], step = Math.max(1, Math.floor((to - from) / 1500));
    let whole = 0;
    for (let i = from; i < to; i += step) {
      const w = t[i + 1] - t[i];
      if (w > 0 && values[i] === values[i]) { sample.push([values[i], w]); whole += w; }
    }
    sample.sort((a, b) => a[0] - b[0]);
    let sum = 0;
    for (const [value, w] of sample) {
      sum += w;
      if (sum >= share * whole) return value;
    }
    return sample.length ? sample[sample.length - 1][0] : 0;
  }
  // Room for so much, in few steps: the picture must not tremble while it is moved.
  function roundUp(value) {
    if (!(value > 1e-6)) return 1;
    const ten = Math.pow(10, Math.floor(Math.log10(value)));
    return ten * [1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10].find((m) => m * ten >= value * 0.9999);
  }

  // Times are rounded: what seems to last so little lasts no time at all.
  const noTime = 2.2e-4;

  function rates(t, volumes) {
    const out = new Float32Array(volumes.length);
    for (let i = 0; i < volumes.length; ++i) {
      const dt = t[i + 1] - t[i];
      out[i] = dt > noTime ? volumes[i] / dt : NaN;
    }
    return out;
  }

  class Flow {
    constructor(path, host, tools, readout) {
      this.path = path;
      this.readout = readout;
      this.t = path.tAfter;
      const end = this.t[path.count];
      this.group = new Meltlag.Linked(0, end);
      Meltlag.groups.push(this.group);
      this.build(host);
      this.buildTools(tools);
    }
    series() {
      const two = this.path.two;
      const pair = (width) => two
          ? [{name: 'as sliced', role: 'before', width: width}, {name: 'adapted', role: 'after', width: width}]
          : [{name: 'this file', role: 'after', width: width}];
      return {
        flow: [{name: 'wanted', role: 'wanted', width: 1.2},
               ...pair(1.8).map((s) => Object.assign(s, {name: two ? 'got ' + s.name : 'got'}))],
        screw: pair(1.4), runOn: pair(1.6)
      };
    }
    sources() {
      const path = this.path, t = this.t;
      const sides = path.two ? [path.before, path.after] : [path.after];
      const flow = [rates(t, path.wanted), ...sides.map((s) => rates(t, s.got))];
      const screw = sides.map((s) => rates(t, s.screw));
      const runOn = sides.map((s) => s.runOn);
      // Run-on is known where a stretch ends.
      return {flow: new Meltlag.Source(t, flow, 'steps'), screw: new Meltlag.Source(t, screw, 'steps'),
              runOn: new Meltlag.Source(t.subarray(1), runOn, 'line')};
    }
    // Heights that fit what is in sight; of many values the rarest peaks are cut off.
    heights(source, range) {
      const from = this.at(range[0]), to = Math.min(this.path.count, this.at(range[1]) + 1);
      const share = to - from < 400 ? 1 : 0.995;
      const high = Math.max(...source.series.map((y) => most(this.t, y, share, from, to)));
      const low = Math.min(...source.series.map((y) => most(this.t, y, 1 - share, from, to)));
      return [low < -1e-6 ? -1.06 * roundUp(-1.02 * low) : 0, 1.06 * roundUp(1.02 * high)];
    }
    build(host) {
      const series = this.series(), sources = this.sources();
      const words = {flow: ['Flow out of the nozzle', 'mm³/s', ''], screw: ['Screw, as told', 'mm³/s', 'low'],
                     runOn: ['Run-on in the barrel', 'mm³', 'low']};
      this.charts = {};
      for (const name of ['flow', 'screw', 'runOn']) {
        const [title, unit, low] = words[name];
        const plot = Meltlag.make('div', {class: 'plot ' + low, role: 'img', id: 'plot-' + name,
                                          'aria-label': title + ' over time. Arrow keys move, + and - zoom.'});
        host.append(Meltlag.make('figure', {class: 'chart'},
                                 [Meltlag.make('figcaption', {}, [title]),
                                  Meltlag.make('div', {class: 'legend'}, Meltlag.legend(series[name])), plot]));
        const spec = {series: series[name], y_label: unit, time: true, valueRange: null,
                      fit: (range) => this.heights(this.charts[name].source, range), onHover: (x) => this.hover(x), onClick: (x) => Meltlag.choose(this.at(x), 'flow')};
        this.charts[name] = new Meltlag.Chart(this.group, plot, spec, sources[name]);
      }
      this.group.refresh();
    }
    buildTools(tools) {
      tools.append(Meltlag.zoomTools(this.group, 'the charts'));
      if (this.path.two) {
        const clock = Meltlag.make('select', {'aria-label': 'Time of which file', onchange: () => this.setClock(clock.value)},
                                   [Meltlag.make('option', {value: 'after'}, ['time of the adapted print']),
                                    Meltlag.make('option', {value: 'before'}, ['time as sliced'])]);
        tools.append(clock);
      }
      tools.append(Meltlag.jumpTo('Line', (line) => Meltlag.choose(Meltlag.atLine(this.path, line), 'jump')));
      if (this.path.layers.length) {
        tools.append(Meltlag.jumpTo('Layer', (layer) => {
          const k = Meltlag.clamp(layer - 1, 0, this.path.layers.length - 1);
          Meltlag.choose(Meltlag.atLine(this.path, this.path.layers[k].line), 'jump');
        }));
      }
    }
    setClock(which) {
      const middle = this.at((this.group.range[0] + this.group.range[1]) / 2);
      const width = this.group.range[1] - this.group.range[0], whole = width > 0.999 * (this.group.high - this.group.low);
      this.t = which === 'before' ? this.path.tBefore : this.path.tAfter;
      const sources = this.sources();
      for (const name of Object.keys(this.charts)) this.charts[name].source = sources[name];
      if (this.chosen !== undefined) this.group.mark = this.t[this.chosen];
      this.group.setExtent(0, this.t[this.path.count]);
      if (!whole) this.group.setRange(this.t[middle] - width / 2, this.t[middle] + width / 2);
    }
    at(x) { return Meltlag.clamp(Meltlag.above(this.t, x) - 1, 0, this.path.count - 1); }
    hover(x) {
      if (x === null) {
        this.readout.textContent = this.chosen === undefined ? this.hint() : this.words(this.chosen);
        Meltlag.point(null);
        return;
      }
      const i = this.at(x);
      this.readout.textContent = this.words(i);
      Meltlag.point(i);
    }
    hint() { return 'Drag over a chart to zoom in, hold Shift to move (two fingers on a touch screen); a double click shows all. ' +
          'Click a moment to see it on the bed.'; }
    words(i) {
      const path = this.path, dt = this.t[i + 1] - this.t[i];
      if (!(dt > noTime)) return Meltlag.describe(path, i);
      const both = (pick) => path.two ? (pick(path.before) / dt).toFixed(2) + ' → ' + (pick(path.after) / dt).toFixed(2)
                                      : (pick(path.after) / dt).toFixed(2);
      return Meltlag.describe(path, i) + ' · flow wanted ' + (path.wanted[i] / dt).toFixed(2) + ', got ' +
             both((s) => s.got[i]) + ' mm³/s · screw ' + both((s) => s.screw[i]) + ' mm³/s';
    }
    // The moments of a layer, of a long one those round its worst place; the whole print is a comb.
    showLayer(layer) {
      const longest = 60, [from, to] = Meltlag.layerRange(this.path, layer);
      const begin = this.t[from], end = this.t[to];
      if (this.t[this.path.count] <= longest) return;
      const worst = this.path.worst.find((place) => place.layer === layer);
      const middle = end - begin > longest && worst ? Meltlag.clamp(worst.at_s, begin + longest / 2, end - longest / 2)
                                                    : (begin + Math.min(end, begin + longest)) / 2;
      const half = Math.min(longest, end - begin) / 2;
      if (half > 0) this.group.setRange(middle - half, middle + half);
    }
    choose(i, from) {
      this.chosen = i;
      const t = this.t[i], [a, b] = this.group.range;
      this.group.mark = t;
      const wide = b - a > 30 && from !== 'flow';
      if (wide) this.group.setRange(t - 6, t + 6);
      else if (t < a || t > b) this.group.setRange(t - (b - a) / 2, t + (b - a) / 2);
      else this.group.refresh();
      this.readout.textContent = this.words(i);
    }
  }
  Meltlag.Flow = Flow;
})();
