// SPDX-License-Identifier: MIT
#include "meltlag/judge/judge.hpp"

#include <cmath>
#include <limits>
#include <optional>

#include "beside.hpp"
#include "invariants_screw.hpp"
#include "invariants_text.hpp"
#include "judged_plan.hpp"
#include "meltlag/judge/survey.hpp"
#include "path_map.hpp"

namespace meltlag::judge {
namespace {

double share(double part, double whole) { return whole > 0 ? part / whole : 0; }

// What the original itself tells, where it is not given.
JudgeOptions completed(std::string const& path, JudgeOptions options) {
  double& max_flow = options.plant.supply.max_flow_mm3_s;
  // Only where the flow is to be set right it matters what unloads.
  bool const asks_for_unload = options.plant.feed.delivered_factor != 1 && !options.unload_mm3;
  if (std::isfinite(max_flow) && !asks_for_unload) return options;
  Demand const demand = survey(path, {options.plant, options.limits, options.g91_covers_e});
  if (!std::isfinite(max_flow)) max_flow = demand.sustained_flow_mm3_s;
  if (!options.unload_mm3) options.unload_mm3 = unload_mm3(demand, options.plant);
  return options;
}

// Rows tell of both files in one order: then all is done by one thread.
unsigned threads_of(JudgeOptions const& options, RowBook const& rows) {
  return rows.is_asked() ? 1 : options.threads;
}

// The original: judged as it is, and source of the path.
class OriginalSide : public OriginalMoves, gcode::MeaningSink {
 public:
  OriginalSide(std::string const& path,
               JudgeOptions const& options,
               Notices& notices,
               RowBook& rows,
               Judgement& out)
      : reader_(path, read_options(options), notices),
        pieces_(options.unload_mm3.value_or(std::numeric_limits<double>::infinity())),
        rows_(rows),
        out_(out),
        metrics_(out.before),
        plan_(options, Side::before, rows, out.before),
        planning_(plan_, threads_of(options, rows)),
        factor_(options.plant.feed.delivered_factor) {
    if (factor_ == 1) return;
    set_right_.emplace(options, Side::before, no_rows_, out.flow_set_right);
    planning_set_right_.emplace(*set_right_, threads_of(options, rows));
  }

  // From now on moves go to `map` and lines to `text` (may be null) as well.
  void tell(PathMap* map, TextCheck* text) {
    map_ = map;
    text_ = text;
  }

  bool read_more() override {
    if (ended_) return false;
    if (!reader_.next()) {
      ended_ = true;
      finish();
      return false;
    }
    ++lines_;
    std::int64_t const place = heads_;
    gcode::LineRole const role = reader_.interpret(*this);
    if (text_ != nullptr) text_->original({reader_.block(), role, place});
    return true;
  }
  [[nodiscard]] bool ended() const { return ended_; }
  [[nodiscard]] std::string_view bom() const { return reader_.source().bom(); }
  [[nodiscard]] std::int64_t heads() const { return heads_; }

 private:
  void on_move(gcode::Move const& move) override {
    PathPiece const piece = pieces_.next(move);
    if (move.kind != gcode::MoveKind::e_only) ++heads_;
    rows_.open(move, piece);
    if (map_ != nullptr) map_->add(move, piece);
    planning_.push(move, piece);
    if (planning_set_right_)
      planning_set_right_->push(with_flow_set_right(move, piece.kept_e_mm, factor_), piece);
  }
  void on_halt(gcode::Halt const& halt) override {
    pieces_.halt();
    pass(halt);
  }
  void on_setting(gcode::Setting const& setting) override { pass(setting); }
  template <class Event>
  void pass(Event const& event) {
    planning_.push(event);
    if (planning_set_right_) planning_set_right_->push(event);
  }
  void finish() {
    planning_.finish();
    plan_.finish();
    metrics_.lines = lines_;
    if (set_right_) {
      planning_set_right_->finish();
      set_right_->finish();
      out_.flow_set_right.lines = lines_;
    } else {
      out_.flow_set_right = metrics_;
    }
  }

  gcode::ProgramReader reader_;
  PathPieceMaker pieces_;
  RowBook& rows_;
  RowBook no_rows_{nullptr, nullptr, Side::before};
  Judgement& out_;
  PrintMetrics& metrics_;
  JudgedPlan plan_;
  Beside<JudgedPlan> planning_;
  double factor_;
  std::optional<JudgedPlan> set_right_;  // where it differs
  std::optional<Beside<JudgedPlan>> planning_set_right_;
  PathMap* map_ = nullptr;
  TextCheck* text_ = nullptr;
  std::int64_t heads_ = 0, lines_ = 0;
  bool ended_ = false;
};

// The emitted file, placed on the original's path.
class EmittedSide : gcode::MeaningSink {
 public:
  EmittedSide(std::string const& path,
              JudgeOptions const& options,
              OriginalSide& original,
              RowBook& rows,
              Judgement& out)
      : prove_(options.prove == Prove::invariants),
        original_(original),
        rows_(rows),
        out_(out),
        reader_(path, read_options(options), notices_),
        map_(original, options.plant.feed.delivered_factor),
        text_(violations_),
        screw_(options, screw_violations_),
        checking_(screw_, threads_of(options, rows)),
        plan_(options, Side::after, rows, out.after),
        planning_(plan_, threads_of(options, rows)) {
    original.tell(&map_, prove_ ? &text_ : nullptr);
  }

  void run() {
    while (!map_.parting() && reader_.next()) line();
    map_.finish();
    rows_.end_at(map_.parted_at());
    original_.tell(nullptr, prove_ ? &text_ : nullptr);
    while (original_.read_more()) {
    }
    planning_.finish();
    plan_.finish();
    out_.after.lines = lines_;
    checking_.finish();
    out_.parting = map_.parting();
    if (prove_) finish_proof();
    violations_.append(screw_violations_);
    out_.violations = violations_.first();
    out_.violation_count = violations_.count();
    out_.violation_lines = violations_.lines();
  }

 private:
  void line() {
    ++lines_;
    std::int64_t const place = map_.heads_done();
    gcode::LineRole const role = reader_.interpret(*this);
    if (!prove_ || map_.parting()) return;
    bool const plain_move = role == gcode::LineRole::motion && !has_comment();
    if (!plain_move && role != gcode::LineRole::marker) read_original_to(place);
    text_.emitted({reader_.block(), role, place});
  }

  [[nodiscard]] bool has_comment() const {
    gcode::Block const& block = reader_.block();
    return !block.comment.empty() || block.text.find('(') != std::string_view::npos;
  }

  // All of the original's lines before its next move of the head, and that move's own.
  void read_original_to(std::int64_t place) {
    std::int64_t const heads = place < 0 ? map_.heads_begun() : place;
    while (original_.heads() <= heads && !text_.ample() && original_.read_more()) {
    }
  }

  void on_move(gcode::Move const& move) override {
    if (auto const piece = map_.place(move)) {
      planning_.push(move, *piece);
      if (prove_) checking_.push(move, *piece);
    }
  }
  void on_halt(gcode::Halt const& halt) override { pass(halt); }
  void on_setting(gcode::Setting const& setting) override { pass(setting); }
  template <class Event>
  void pass(Event const& event) {
    if (map_.parting()) return;
    planning_.push(event);
    if (prove_) checking_.push(event);
  }

  void finish_proof() {
    if (map_.parting()) {
      violations_.add(map_.parting()->text);
      return;
    }
    if (map_.purges_lost() > 0) {
      violations_.add("the purge in the original's line " +
                      std::to_string(map_.first_purge_lost()) +
                      (map_.purges_lost() > 1 ? " and others are not kept" : " is not kept"));
    }
    text_.finish(original_.bom(), reader_.source().bom());
    screw_.finish(out_);
  }

  bool prove_;
  OriginalSide& original_;
  RowBook& rows_;
  Judgement& out_;
  Notices notices_;  // the original's are told already
  Violations violations_, screw_violations_;
  gcode::ProgramReader reader_;
  PathMap map_;
  TextCheck text_;
  ScrewCheck screw_;
  Beside<ScrewCheck> checking_;
  JudgedPlan plan_;
  Beside<JudgedPlan> planning_;
  std::int64_t lines_ = 0;
};

}  // namespace

double PrintMetrics::misplaced_share() const { return share(misplaced_mm3, wanted_mm3); }
double PrintMetrics::bead_error() const {
  return std::sqrt(share(bead_squares, static_cast<double>(bead_cells)));
}
double PrintMetrics::blob_mean_mm3() const {
  return share(blob_total_mm3, static_cast<double>(blobs));
}
double PrintMetrics::gap_mean_mm() const { return share(gap_total_mm, static_cast<double>(gaps)); }

Judgement judge_files(std::string const& original_path,
                      std::string const& emitted_path,
                      JudgeOptions const& given,
                      Notices& notices,
                      RowSink* rows,
                      CellSink* cells) {
  JudgeOptions const options = completed(original_path, given);
  Judgement out;
  out.supply = options.plant.supply;
  RowBook book(rows, cells, Side::after);
  OriginalSide original(original_path, options, notices, book, out);
  EmittedSide(emitted_path, options, original, book, out).run();
  return out;
}

Judgement predict(std::string const& path,
                  JudgeOptions const& given,
                  Notices& notices,
                  RowSink* rows,
                  CellSink* cells) {
  JudgeOptions const options = completed(path, given);
  Judgement out;
  out.supply = options.plant.supply;
  RowBook book(rows, cells, Side::before);
  OriginalSide side(path, options, notices, book, out);
  while (side.read_more()) {
  }
  out.after = out.before;
  return out;
}

}  // namespace meltlag::judge
