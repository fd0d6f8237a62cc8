// SPDX-License-Identifier: MIT
// Flow, screw and run-on over time, linked.
(function () {
  // What all but the shortest moments stay below: from a sample weighted by time.
  function most(t, values, share) {
    const sample = [], step = Math.max(1, Math.floor(values.length / 20000));
    let whole = 0;
    for (let i = 0; i < values.length; i += step) {
      const w = t[i + 1] - t[i];
      if (w > 0 && values[i] === values[i]) { sample.push([values[i], w]); whole += w; }
    }
    sample.sort((a, b) => a[0] - b[0]);
    let sum = 0;
    for (const [value, w] of sample) {
      sum += w;
      if (sum >= share * whole) return value;
    }
    return sample.length ? sample[sample.length - 1][0] : 1;
  }

  function rates(t, volumes) {
    const out = new Float32Array(volumes.length);
    for (let i = 0; i < volumes.length; ++i) {
      const dt = t[i + 1] - t[i];
      out[i] = dt > 0 ? volumes[i] / dt : NaN;
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
      const top = (list, share) => Math.max(...list.map((y) => most(t, y, share)));
      const bottom = (list) => Math.min(0, ...list.map((y) => most(t, y, 0.003)));
      const high = 1.15 * Math.max(top(flow, 0.995), 1e-6), fed = Math.max(top(screw, 0.997), 1e-6);
      const drawn = bottom(screw), most_run = 1.1 * Math.max(top(runOn, 1), 1e-6);
      return {
        flow: [new Meltlag.Source(t, flow, true), [0, high]],
        screw: [new Meltlag.Source(t, screw, true), [1.1 * drawn, 1.15 * fed]],
        runOn: [new Meltlag.Source(t, runOn, true), [Math.min(0, 1.1 * bottom(runOn)), most_run]]
      };
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
        const spec = {series: series[name], y_label: unit, time: true, valueRange: sources[name][1],
                      onHover: (x) => this.hover(x), onClick: (x) => Meltlag.choose(this.at(x), 'flow')};
        this.charts[name] = new Meltlag.Chart(this.group, plot, spec, sources[name][0]);
      }
    }
    buildTools(tools) {
      tools.append(Meltlag.zoomTools(this.group, 'the charts'));
      if (this.path.two) {
        const clock = Meltlag.make('select', {'aria-label': 'Time of which file', onchange: () => this.setClock(clock.value)},
                                   [Meltlag.make('option', {value: 'after'}, ['time of the adapted print']),
                                    Meltlag.make('option', {value: 'before'}, ['time as sliced'])]);
        tools.append(clock);
      }
      tools.append(this.jump('Line', 1, (line) => Meltlag.choose(Meltlag.atLine(this.path, line), 'jump')));
      if (this.path.layers.length) {
        tools.append(this.jump('Layer', this.path.layers.length, (layer) => {
          const k = Meltlag.clamp(layer - 1, 0, this.path.layers.length - 1);
          Meltlag.choose(Meltlag.atLine(this.path, this.path.layers[k].line), 'jump');
        }));
      }
    }
    jump(name, most, go) {
      const input = Meltlag.make('input', {type: 'number', min: 1, 'aria-label': 'Go to ' + name.toLowerCase(),
                                           placeholder: name.toLowerCase(), id: 'go-' + name.toLowerCase()});
      const submit = (event) => {
        event.preventDefault();
        if (input.value) go(Number(input.value));
      };
      return Meltlag.make('form', {onsubmit: submit}, [input, Meltlag.make('button', {}, ['Go to ' + name.toLowerCase()])]);
    }
    setClock(which) {
      const middle = this.at((this.group.range[0] + this.group.range[1]) / 2);
      const width = this.group.range[1] - this.group.range[0], whole = width > 0.999 * (this.group.high - this.group.low);
      this.t = which === 'before' ? this.path.tBefore : this.path.tAfter;
      const sources = this.sources();
      for (const name of Object.keys(this.charts)) this.charts[name].setSource(sources[name][0], sources[name][1]);
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
    hint() { return 'Drag over a chart to zoom in, hold Shift to move; a double click shows all. Click a moment to see it on the bed.'; }
    words(i) {
      const path = this.path, dt = this.t[i + 1] - this.t[i];
      if (!(dt > 0)) return Meltlag.describe(path, i);
      const both = (pick) => path.two ? (pick(path.before) / dt).toFixed(2) + ' → ' + (pick(path.after) / dt).toFixed(2)
                                      : (pick(path.after) / dt).toFixed(2);
      return Meltlag.describe(path, i) + ' · flow wanted ' + (path.wanted[i] / dt).toFixed(2) + ', got ' +
             both((s) => s.got[i]) + ' mm³/s · screw ' + both((s) => s.screw[i]) + ' mm³/s';
    }
    choose(i, from) {
      this.chosen = i;
      const t = this.t[i], [a, b] = this.group.range;
      this.group.mark = t;
      const wide = b - a > 120 && from !== 'flow';
      if (wide) this.group.setRange(t - 6, t + 6);
      else if (t < a || t > b) this.group.setRange(t - (b - a) / 2, t + (b - a) / 2);
      else this.group.refresh();
      this.readout.textContent = this.words(i);
    }
  }
  Meltlag.Flow = Flow;
})();
