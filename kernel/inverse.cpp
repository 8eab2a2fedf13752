// Closed-form inverse kinematics by subproblems: B. Paden's and W. Kahan's, in the notation of A. J. Elias and J. T. Wen,
// "IK-Geo: Unified robot inverse kinematics using subproblem decomposition" (2022). Axes h_i through points p_i at q = 0.
#include <algorithm>
#include <limits>

#include "kernel.h"

namespace handfast {

constexpr double MEET = 1e-7;      // axes closer than this meet [m]
constexpr double PARALLEL = 1e-9;  // sine of the angle between parallel axes
constexpr double SINGULAR = 1e-12;

static bool parallel(Vec a, Vec b) { return norm(cross(a, b)) < PARALLEL; }

static double distance_to_line(Vec x, Vec p, Vec h) { return norm(cross(x - p, h)); }

// Point midway between two lines that are not parallel.
static Vec between_lines(Vec p, Vec h, Vec r, Vec g) {
    const Vec n = cross(h, g), d = r - p;
    const double s = dot(cross(d, g), n) / dot(n, n), t = dot(cross(d, h), n) / dot(n, n);
    return 0.5 * ((p + s * h) + (r + t * g));
}

static bool meet(const Axes &a, int i, int j, Vec &x) {
    if (norm(cross(a.h[i], a.h[j])) < 1e-3) return false;
    x = between_lines(a.p[i], a.h[i], a.p[j], a.h[j]);
    return distance_to_line(x, a.p[i], a.h[i]) < MEET;
}

static Structure structure_of(Axes &a) {
    if (!meet(a, 4, 5, a.wrist)) return NUMERIC;
    if (parallel(a.h[1], a.h[2]) && parallel(a.h[2], a.h[3]) && norm(cross(a.h[0], a.h[1])) > 1e-3 &&
        norm(cross(a.h[3], a.h[4])) > 1e-3)
        return THREE_PARALLEL;
    if (norm(cross(a.h[3], a.h[4])) < 1e-3 || distance_to_line(a.wrist, a.p[3], a.h[3]) > MEET) return NUMERIC;
    a.parallel_shoulder = parallel(a.h[1], a.h[2]) && norm(cross(a.h[0], a.h[1])) > 1e-3;
    return a.parallel_shoulder || meet(a, 0, 1, a.shoulder) ? SPHERICAL_WRIST : NUMERIC;
}

Axes axes_of(const ArmTable &arm) {
    Axes a = {};
    const double zero[MAX_JOINTS] = {};
    Pose joints[MAX_JOINTS];
    a.tip = tip_pose(arm, zero, joints);
    for (int i = 0; i < arm.n; ++i) {
        const Mat &r = joints[i].r;
        a.h[i] = {r.m[2], r.m[5], r.m[8]};
        a.p[i] = joints[i].p;
    }
    a.structure = arm.n == 6 ? structure_of(a) : NUMERIC;
    return a;
}

// Subproblem 1: the angle about k that brings p nearest to r.
static double turn_between(Vec k, Vec p, Vec r) { return arctan2(dot(k, cross(p, r)), dot(p, r) - dot(k, p) * dot(k, r)); }

// Subproblem 4: the angles about k with h . Rot(k, angle) p = d. If none or any does, `count` says 0 or 1 (`any`).
struct Angles {
    int count;
    double angle[2];
};

static Angles turns_to_plane(Vec h, Vec k, Vec p, double d, double any) {
    const double a = dot(h, p) - dot(h, k) * dot(k, p), b = dot(h, cross(k, p)), r = std::sqrt(a * a + b * b);
    const double rest = d - dot(h, k) * dot(k, p);
    if (r < SINGULAR) return {std::fabs(rest) < 1e-9 ? 1 : 0, {any, any}};
    const double c = rest / r;
    if (std::fabs(c) > 1.0 + 1e-9) return {0, {}};
    const double middle = arctan2(b, a), half = arccos(std::min(std::max(c, -1.0), 1.0));
    return {2, {middle + half, middle - half}};
}

struct Branches {
    const Axes &a;
    const double *near;
    double *q;  // BRANCHES x 6
    int count;
    const ArmTable *only_turn = nullptr;  // where only the least turn is asked for: within its limits, q unused
    double least = std::numeric_limits<double>::infinity();
};

// How far the first `n` joints turn at most from the reference; inf beyond the limits.
static double turn_of(const Branches &b, const double *q, int n) {
    double x[6], most = 0.0;
    if (!nearest_turns(q, b.only_turn->lo, b.only_turn->hi, b.near, n, x)) return std::numeric_limits<double>::infinity();
    for (int j = 0; j < n; ++j) most = std::max(most, std::fabs(x[j] - b.near[j]));
    return most;
}

static void keep(Branches &b, const double *q) {
    if (b.only_turn)
        b.least = std::min(b.least, turn_of(b, q, 6));
    else if (b.count < BRANCHES)
        std::copy(q, q + 6, b.q + 6 * b.count++);
}

// Rot(h4, q4) Rot(h5, q5) Rot(h6, q6) = w, with h4, h5, h6 given as f, g, h.
static void wrist_branches(Branches &b, Vec f, Vec g, Vec h, const Mat &w, const double *q123) {
    const Vec aim = w * h;
    const Angles bends = turns_to_plane(f, g, h, dot(f, aim), b.near[4]);
    for (int i = 0; i < bends.count; ++i) {
        double q[6] = {q123[0], q123[1], q123[2], b.near[3], bends.angle[i], 0.0};
        // The cosine leaves 1e-8 rad of doubt near a straight wrist: take the direction from a slightly bent one.
        Vec bent = rotate(g, q[4], h);
        if (norm(cross(bent, f)) < 2e-6) bent = rotate(g, q[4] + (i ? -1e-5 : 1e-5), h);
        if (norm(cross(aim, f)) > SINGULAR) q[3] = turn_between(f, bent, aim);
        q[4] = turn_between(g, h, rotate(f, -q[3], aim));
        const Mat left = transpose(rotation(f, q[3]) * rotation(g, q[4])) * w;
        q[5] = turn_between(h, g, left * g);
        keep(b, q);
    }
}

static void wrist_after(Branches &b, const Mat &turned, double q1, double q2, double q3) {
    const Axes &a = b.a;
    const double q[3] = {q1, q2, q3};
    if (b.only_turn && turn_of(b, q, 3) >= b.least) return;  // the wrist would only add to it
    const Mat r03 = rotation(a.h[0], q1) * rotation(a.h[1], q2) * rotation(a.h[2], q3);
    wrist_branches(b, a.h[3], a.h[4], a.h[5], transpose(r03) * turned, q);
}

// Axes 2 and 3 parallel: the wrist's height along them fixes q1, its distance q3 (subproblem 3), then q2.
static void parallel_shoulder(Branches &b, Vec wrist, const Mat &turned) {
    const Axes &a = b.a;
    const Vec p23 = a.p[2] - a.p[1], p34 = a.wrist - a.p[2], p16 = wrist - a.p[0];
    const Angles first = turns_to_plane(a.h[1], -1.0 * a.h[0], p16, dot(a.h[1], a.wrist - a.p[0]), b.near[0]);
    for (int i = 0; i < first.count; ++i) {
        const Vec u = rotate(a.h[0], -first.angle[i], p16) - (a.p[1] - a.p[0]);
        const Angles third = turns_to_plane(p23, a.h[2], p34, 0.5 * (dot(u, u) - dot(p23, p23) - dot(p34, p34)), b.near[2]);
        for (int k = 0; k < third.count; ++k) {
            const Vec v = p23 + rotate(a.h[2], third.angle[k], p34);
            wrist_after(b, turned, first.angle[i], turn_between(a.h[1], v, u), third.angle[k]);
        }
    }
}

// Axes 1 and 2 meet: the wrist's distance from there fixes q3, then q1 and q2 (subproblem 2).
static void meeting_shoulder(Branches &b, Vec wrist, const Mat &turned) {
    const Axes &a = b.a;
    const Vec p23 = a.p[2] - a.shoulder, p34 = a.wrist - a.p[2], u = wrist - a.shoulder;
    const Angles third = turns_to_plane(p23, a.h[2], p34, 0.5 * (dot(u, u) - dot(p23, p23) - dot(p34, p34)), b.near[2]);
    for (int k = 0; k < third.count; ++k) {
        const Vec v = p23 + rotate(a.h[2], third.angle[k], p34);
        const Angles first = turns_to_plane(a.h[1], -1.0 * a.h[0], u, dot(a.h[1], v), b.near[0]);
        for (int i = 0; i < first.count; ++i) {
            const double q2 = turn_between(a.h[1], v, rotate(a.h[0], -first.angle[i], u));
            wrist_after(b, turned, first.angle[i], q2, third.angle[k]);
        }
    }
}

// In the plane across h: what of v turns about h.
static Vec across(Vec h, Vec v) { return v - dot(h, v) * h; }

// With axis 6 parallel to 2, 3, 4 only the sum of four angles counts. Where the reference's q6 puts the elbow out of
// reach: the turn `sum` of p45 that puts it midway between the bounds of what the links 2-3 and 3-4 can span.
static bool reachable_sum(const Axes &a, Vec u0, Vec p45, double &sum) {
    const Vec h = a.h[1], u = across(h, u0), v = across(h, p45);
    const double l1 = norm(across(h, a.p[2] - a.p[1])), l2 = norm(across(h, a.p[3] - a.p[2]));
    const double least = std::max(std::fabs(norm(u) - norm(v)), std::fabs(l1 - l2));
    const double most = std::min(norm(u) + norm(v), l1 + l2), span = 0.5 * (least + most);
    if (least > most) return false;
    const Angles turns = turns_to_plane(u, h, v, 0.5 * (dot(u, u) + dot(v, v) - span * span), 0.0);
    sum = turns.angle[0];
    return turns.count > 0;
}

static Angles elbow(const Axes &a, Vec u, double any) {
    const Vec p23 = a.p[2] - a.p[1], p34 = a.p[3] - a.p[2];
    return turns_to_plane(p23, a.h[2], p34, 0.5 * (dot(u, u) - dot(p23, p23) - dot(p34, p34)), any);
}

// Axes 2, 3, 4 parallel, r = Rot(h1, -q1) R_06: q5, q6, the sum q2 + q3 + q4, then the elbow.
static void parallel_arm(Branches &b, double q1, Vec p16, const Mat &r) {
    const Axes &a = b.a;
    const Vec h2 = a.h[1], h5 = a.h[4], h6 = a.h[5], seen = transpose(r) * h2, p45 = a.wrist - a.p[3];
    const double s3 = dot(h2, a.h[2]) > 0 ? 1.0 : -1.0, s4 = dot(h2, a.h[3]) > 0 ? 1.0 : -1.0;
    const Vec side = unit(cross(h2, std::fabs(h2.x) < 0.6 ? Vec{1, 0, 0} : Vec{0, 1, 0}));
    const Vec u0 = rotate(a.h[0], -q1, p16) - (a.p[1] - a.p[0]);
    const Angles fifth = turns_to_plane(h2, h5, h6, dot(h2, r * h6), b.near[4]);
    for (int i = 0; i < fifth.count; ++i) {
        double q[6] = {q1, 0, 0, 0, fifth.angle[i], b.near[5]};
        const double bend = norm(cross(seen, h6));
        Vec bent = rotate(h5, -q[4], h2);
        if (norm(cross(bent, h6)) < 2e-6) bent = rotate(h5, -q[4] + (i ? -1e-5 : 1e-5), h2);
        if (bend > SINGULAR) q[5] = -turn_between(h6, bent, seen);
        q[4] = -turn_between(h5, h2, rotate(h6, q[5], seen));
        const Mat fold = r * rotation(h6, -q[5]) * rotation(h5, -q[4]);
        double sum = turn_between(h2, side, fold * side);
        Angles third = elbow(a, u0 - rotate(h2, sum, p45), b.near[2]);
        if (bend < 0.5 * GOOD && third.count == 0 && reachable_sum(a, u0, p45, sum)) {
            q[5] = turn_between(h6, h5, transpose(rotation(h2, sum) * rotation(h5, q[4])) * (r * h5));
            third = elbow(a, u0 - rotate(h2, sum, p45), b.near[2]);
        }
        for (int k = 0; k < third.count; ++k) {
            q[2] = third.angle[k];
            q[1] = turn_between(h2, a.p[2] - a.p[1] + rotate(a.h[2], q[2], a.p[3] - a.p[2]), u0 - rotate(h2, sum, p45));
            q[3] = s4 * (sum - q[1] - s3 * q[2]);
            keep(b, q);
        }
    }
}

static void three_parallel(Branches &b, Vec wrist, const Mat &turned) {
    const Axes &a = b.a;
    const Vec p16 = wrist - a.p[0];
    const Angles first = turns_to_plane(a.h[1], -1.0 * a.h[0], p16, dot(a.h[1], a.wrist - a.p[0]), b.near[0]);
    for (int i = 0; i < first.count; ++i)
        parallel_arm(b, first.angle[i], p16, rotation(a.h[0], -first.angle[i]) * turned);
}

// The branches as the closed form gives them, not yet settled nor held against the limits.
static void closed_form(Branches &b, const Pose &target) {
    const Axes &a = b.a;
    const Vec wrist = (target * inverse(a.tip)).r * a.wrist + (target * inverse(a.tip)).p;
    const Mat turned = target.r * transpose(a.tip.r);
    if (a.structure == THREE_PARALLEL)
        three_parallel(b, wrist, turned);
    else if (a.parallel_shoulder)
        parallel_shoulder(b, wrist, turned);
    else
        meeting_shoulder(b, wrist, turned);
}

void all_branches(const ArmTable &arm, const Axes &a, const Pose &target, const double *near, double *q, bool *valid) {
    if (a.structure == NUMERIC) {
        search_inverse(arm, target, {near, 1, 24, 60, 0}, 0, q, valid);
        for (int i = 0; i < BRANCHES; ++i)
            if (valid[i]) nearest_turns(q + i * arm.n, arm.lo, arm.hi, near, arm.n, q + i * arm.n);
        return;
    }
    double raw[BRANCHES * 6];
    Branches b = {a, near, raw, 0};
    closed_form(b, target);
    for (int i = 0; i < BRANCHES; ++i) {
        double *x = q + 6 * i;
        valid[i] = i < b.count && settle(arm, target, 6, false, raw + 6 * i);
        for (int k = 0; k < i && valid[i]; ++k) valid[i] = !(valid[k] && same_turn(raw + 6 * k, raw + 6 * i, 6));
        valid[i] = valid[i] && nearest_turns(raw + 6 * i, arm.lo, arm.hi, near, 6, x);
        if (!valid[i]) std::fill(x, x + 6, std::nan(""));
    }
}

double least_turn(const ArmTable &arm, const Axes &a, const Pose &target, const double *near) {
    Branches b = {a, near, nullptr, 0, &arm};
    if (a.structure != NUMERIC) {
        closed_form(b, target);
        return b.least;
    }
    double q[BRANCHES * MAX_JOINTS];
    bool valid[BRANCHES];
    all_branches(arm, a, target, near, q, valid);
    for (int i = 0; i < BRANCHES; ++i) {
        double most = valid[i] ? 0.0 : b.least;
        for (int j = 0; j < arm.n; ++j) most = std::max(most, valid[i] ? std::fabs(q[i * arm.n + j] - near[j]) : 0.0);
        b.least = std::min(b.least, most);
    }
    return b.least;
}

bool any_branch(const ArmTable &arm, const Axes &a, const Pose &target, const double *near) {
    double q[BRANCHES * MAX_JOINTS], x[6];
    if (a.structure == NUMERIC) {
        bool valid[BRANCHES];
        all_branches(arm, a, target, near, q, valid);
        return std::find(valid, valid + BRANCHES, true) != valid + BRANCHES;
    }
    Branches b = {a, near, q, 0};
    closed_form(b, target);
    for (int i = 0; i < b.count; ++i)
        if (settle(arm, target, 6, false, q + 6 * i) && nearest_turns(q + 6 * i, arm.lo, arm.hi, near, 6, x)) return true;
    return false;
}

}  // namespace handfast
