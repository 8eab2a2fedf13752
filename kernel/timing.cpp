// Straight joint segments with trapezoidal speed, joined by parabolic blends of constant acceleration.
//
// At a corner between unit directions u, w the blend enters at speed c along u, leaves at c along w, and takes the time
// b = c kappa, kappa = max_j |w_j - u_j| / a_j. It uses c b / 2 of each segment and passes the waypoint at |w - u| c b / 8.
// Everything is linear in x = c^2, so one forward and one backward pass over the corners give the corner speeds.
#include <algorithm>

#include "kernel.h"

namespace handfast {

namespace {

constexpr double STRAIGHT = 1e-15;  // a deviation that rounding alone makes: no reason to stop [rad]

struct Segment {
    std::vector<double> u;
    double length, top, a;  // speed and acceleration along it
};

struct Corner {
    double kappa, x;  // blend time per speed, squared speed
};

double share(double used, double limit) { return used > 0 ? limit / used : HUGE_VAL; }

Segment segment_between(const double *p, const double *q, const Limits &lim, double duration) {
    Segment s{std::vector<double>(size_t(lim.n)), 0.0, HUGE_VAL, HUGE_VAL};
    for (int j = 0; j < lim.n; ++j) s.length += (q[j] - p[j]) * (q[j] - p[j]);
    s.length = std::sqrt(s.length);
    for (int j = 0; j < lim.n && s.length > 0; ++j) {
        s.u[size_t(j)] = (q[j] - p[j]) / s.length;
        s.top = std::min(s.top, share(std::fabs(s.u[size_t(j)]), lim.vmax[j]));
        s.a = std::min(s.a, share(std::fabs(s.u[size_t(j)]), lim.amax[j]));
    }
    s.top = std::min(s.top, share(duration, s.length));
    return s;
}

Corner corner_between(const Segment &s, const Segment &t, const Limits &lim) {
    double kappa = 0, bend = 0;
    for (size_t j = 0; j < s.u.size(); ++j) {
        const double d = t.u[j] - s.u[j];
        kappa = std::max(kappa, std::fabs(d) / lim.amax[j]);
        bend += d * d;
    }
    const double top = std::min(s.top, t.top);
    double x = std::min(top * top, share(kappa, std::min(s.length, t.length)));
    return {kappa, std::min(x, share(std::sqrt(bend) * kappa, 8.0 * std::max(lim.corner, STRAIGHT)))};
}

// x at one end of a segment is at most this, given x at the other: acceleration over what the blends leave of it.
double reachable(const Segment &s, const Corner &from, const Corner &to) {
    return (from.x * (1.0 - s.a * from.kappa) + 2.0 * s.a * s.length) / (1.0 + s.a * to.kappa);
}

class Knots {
  public:
    Knots(int n, const double *q) : n_(size_t(n)), at_(q, q + n) { push(0.0, std::vector<double>(n_)); }

    // Constant acceleration to velocity v over dt; the path is followed by the mean velocity.
    void advance(double dt, const std::vector<double> &v) {
        if (dt < 1e-12) return;
        for (size_t j = 0; j < n_; ++j) at_[j] += 0.5 * (speed_[j] + v[j]) * dt;
        push(out.t.back() + dt, v);
    }

    TimedPath out;

  private:
    void push(double t, const std::vector<double> &v) {
        out.t.push_back(t);
        out.q.insert(out.q.end(), at_.begin(), at_.end());
        out.v.insert(out.v.end(), v.begin(), v.end());
        speed_ = v;
    }
    size_t n_;
    std::vector<double> at_, speed_;
};

std::vector<double> times(const std::vector<double> &u, double speed) {
    std::vector<double> v(u);
    for (double &x : v) x *= speed;
    return v;
}

// Speeds up, runs and slows down over the straight rest of a segment.
void run_straight(Knots &knots, const Segment &s, const Corner &from, const Corner &to) {
    const double c0 = std::sqrt(from.x), c1 = std::sqrt(to.x);
    const double room = std::max(0.0, s.length - 0.5 * (from.x * from.kappa + to.x * to.kappa));
    const double peak = std::max({c0, c1, std::min(s.top, std::sqrt(0.5 * (from.x + to.x) + s.a * room))});
    const double used = (2.0 * peak * peak - from.x - to.x) / (2.0 * s.a);
    knots.advance((peak - c0) / s.a, times(s.u, peak));
    knots.advance((room - used) / peak, times(s.u, peak));
    knots.advance((peak - c1) / s.a, times(s.u, c1));
}

}  // namespace

TimedPath time_polyline(const double *path, size_t k, const Limits &lim, const double *durations) {
    std::vector<Segment> segments;
    std::vector<size_t> after(k, 0);  // segments completed at each waypoint
    for (size_t i = 0; i + 1 < k; ++i) {
        const size_t n = size_t(lim.n);
        const Segment s = segment_between(path + i * n, path + (i + 1) * n, lim, durations ? durations[i] : 0.0);
        if (s.length > 1e-12) segments.push_back(s);
        after[i + 1] = segments.size();
    }
    std::vector<Corner> corners(segments.size() + 1, Corner{0.0, 0.0});
    for (size_t i = 1; i < segments.size(); ++i) corners[i] = corner_between(segments[i - 1], segments[i], lim);
    for (size_t i = 0; i < segments.size(); ++i)
        corners[i + 1].x = std::min(corners[i + 1].x, reachable(segments[i], corners[i], corners[i + 1]));
    for (size_t i = segments.size(); i-- > 0;)
        corners[i].x = std::min(corners[i].x, reachable(segments[i], corners[i + 1], corners[i]));
    Knots knots(lim.n, path);
    knots.out.deviation = 0.0;
    std::vector<double> passed{0.0};
    for (size_t i = 0; i < segments.size(); ++i) {
        run_straight(knots, segments[i], corners[i], corners[i + 1]);
        const double blend = std::sqrt(corners[i + 1].x) * corners[i + 1].kappa;
        passed.push_back(knots.out.t.back() + 0.5 * blend);
        if (i + 1 == segments.size()) break;
        knots.advance(blend, times(segments[i + 1].u, std::sqrt(corners[i + 1].x)));
        double bend = 0;
        for (size_t j = 0; j < segments[i].u.size(); ++j)
            bend += (segments[i + 1].u[j] - segments[i].u[j]) * (segments[i + 1].u[j] - segments[i].u[j]);
        knots.out.deviation = std::max(knots.out.deviation, std::sqrt(bend * corners[i + 1].x) * blend / 8.0);
    }
    for (size_t i = 0; i < k; ++i) knots.out.at.push_back(passed[after[i]]);
    return knots.out;
}

}  // namespace handfast
