// Steps to the balance, and what springs, walls and friction hold against a step.
#include "balance.h"

#include <algorithm>

namespace handfast {

namespace {

constexpr int MOST = 40;            // iterations of one step
constexpr double SETTLED = 0.02;    // what may be left of forces and moments in balance [N]
constexpr double NEAR = 4e-6;        // a body that touches does not go further in one iteration, past an edge [m]
constexpr int HALVED = 5;           // of a Newton step, before the energy is asked
constexpr double SHALLOW = 2e-6;    // a search does not begin deeper in a wall than this [m]
constexpr double LEVER = 0.03;      // at which a turn counts as a movement [m]

Pose between(const Pose &a, const Pose &b, double share) {
    const Vec w = rotation_vector(b.r * transpose(a.r));
    const double angle = norm(w);
    return {angle > 1e-300 ? rotation((1.0 / angle) * w, share * angle) * a.r : a.r, a.p + share * (b.p - a.p)};
}

}  // namespace

// The search begins with the body carried along as it stands, as far as no wall is in the way: from deep inside a
// wall it could leave by the wrong side.
void Balance::command(const Pose &to) {
    const Pose from = bodies_[0].at, off = inverse(from) * now_[0];
    bodies_[0].at = to;
    const std::vector<Pose> stood = now_;
    const Pose there = to * off;
    double share = 1.0;
    for (int halved = 0; halved < 8; ++halved, share *= 0.5) {
        now_[0] = share == 1.0 ? there : between(stood[0], there, share);
        touch(now_, touches_);
        double deepest = 0;
        for (const Touch &t : touches_) deepest = std::max(deepest, t.depth);
        if (deepest < SHALLOW) return;
    }
    now_ = stood;
}

bool Balance::settle() {
    std::vector<Pose> trial;
    touch(now_, touches_);
    double step[6 * MAX_BODIES], left = residual(now_, touches_);
    for (int k = 0; k < MOST; ++k) {
        if (left < SETTLED) return true;
        ++out.iterations;
        newton(step, true);
        bool found = false;
        double share = limited(step);
        for (int halved = 0; halved < HALVED && !found; ++halved, share *= 0.5) {
            trial = moved(step, share);
            touch(trial, tried_);
            const double there = residual(trial, tried_);
            if (there < left * (1.0 - 0.1 * share)) found = true, left = there, now_ = trial, touches_.swap(tried_);
        }
        if (!found) descend(), left = residual(now_, touches_);
    }
    return left < SETTLED;
}

// One step down the energy with the normal forces as they are: slower, but it does not get lost.
void Balance::descend() {
    double step[6 * MAX_BODIES];
    force_.resize(touches_.size());
    const double here = energy(now_, touches_, true);
    newton(step, false);
    double share = limited(step);
    std::vector<Pose> trial;
    for (int halved = 0; halved < 12; ++halved, share *= 0.5) {
        trial = moved(step, share);
        if (energy_there(trial) <= here + 1e-13) break;
    }
    now_ = trial;
    touch(now_, touches_);
}

double Balance::limited(const double *step) const {
    double size = 0;
    for (int i = 0; i < n_; ++i) size = std::max(size, std::fabs(step[i]) * (i % 6 < 3 ? 1.0 : LEVER));
    const double most = touches_.empty() ? 2e-3 : NEAR;
    return size > most ? most / size : 1.0;
}

std::vector<Pose> Balance::moved(const double *step, double share) const {
    std::vector<Pose> poses = now_;
    for (size_t b = 0; b < poses.size(); ++b) {
        const double *d = step + 6 * b;
        poses[b].p = poses[b].p + share * Vec{d[0], d[1], d[2]};
        const Vec w = share * Vec{d[3], d[4], d[5]};
        const double angle = norm(w);
        if (angle > 1e-300) poses[b].r = rotation((1.0 / angle) * w, angle) * poses[b].r;
    }
    return poses;
}

void Balance::take_back(const Pose &to) {
    bodies_[0].at = to;
    now_ = before_;
}

void Balance::keep() {
    touch(now_, touches_);
    for (const Touch &t : touches_) out.deepest[size_t(t.rim)] = std::max(out.deepest[size_t(t.rim)], t.depth);
    before_ = now_;
}

void Balance::feel(double gone) {
    const Vec f = stretched(0), w = rotation_vector(bodies_[0].at.r * transpose(now_[0].r));
    const double along = dot(f, going_.way);
    out.felt.insert(out.felt.end(), {gone, along, norm(f - along * going_.way), norm(springs(0, w, true))});
}

// What is left of forces and moments at a pose [N].
double Balance::residual(const std::vector<Pose> &poses, const std::vector<Touch> &touches) const {
    double g[6 * MAX_BODIES];
    spring_pull(poses, g);
    for (const Touch &t : touches) {
        const double w = going_.friction * going_.stiffness * t.depth / std::max(norm(t.along), going_.slip);
        const Vec pull = w * t.along - (going_.stiffness * t.depth) * t.normal;
        const int ends[2] = {t.a, t.b};
        for (int e = 0; e < 2; ++e) {
            if (ends[e] < 0) continue;
            const double sign = e == 0 ? 1.0 : -1.0;
            const Vec turn = cross(t.at - poses[size_t(ends[e])].p, pull);
            const double own[6] = {pull.x, pull.y, pull.z, turn.x, turn.y, turn.z};
            for (int i = 0; i < 6; ++i) g[6 * ends[e] + i] += sign * own[i];
        }
    }
    double sum = 0;
    for (int i = 0; i < n_; ++i) sum += g[i] * g[i] * (i % 6 < 3 ? 1.0 : 1.0 / (LEVER * LEVER));
    return std::sqrt(sum);
}

void Balance::spring_pull(const std::vector<Pose> &poses, double *g) const {
    for (int b = 0; b < n_ / 6; ++b) {
        const Body &body = bodies_[size_t(b)];
        const Vec f = springs(b, poses[size_t(b)].p - body.at.p, false);
        const Vec w = springs(b, rotation_vector(poses[size_t(b)].r * transpose(body.at.r)), true);
        const double pull[6] = {f.x, f.y, f.z, w.x, w.y, w.z};
        for (int i = 0; i < 6; ++i) g[6 * b + i] = pull[i];
    }
}

Vec Balance::springs(int b, Vec v, bool turn) const {
    const Body &body = bodies_[size_t(b)];
    Vec local = transpose(body.at.r) * v;
    const double across = turn ? body.angular : body.lateral, along = turn ? body.spin : body.axial;
    return body.at.r * Vec{across * local.x, across * local.y, along * local.z};
}

// Potential of the springs, the walls and friction; take: the normal forces are those of this pose from now on.
double Balance::energy(const std::vector<Pose> &poses, const std::vector<Touch> &touches, bool take) {
    double e = 0;
    for (int b = 0; b < int(poses.size()); ++b) {
        const Body &body = bodies_[size_t(b)];
        const Vec d = poses[size_t(b)].p - body.at.p, w = rotation_vector(poses[size_t(b)].r * transpose(body.at.r));
        e += 0.5 * (dot(d, springs(b, d, false)) + dot(w, springs(b, w, true)));
    }
    for (size_t i = 0; i < touches.size(); ++i) {
        const Touch &t = touches[i];
        e += 0.5 * going_.stiffness * t.depth * t.depth;
        if (take) force_[i] = going_.friction * going_.stiffness * t.depth;
    }
    if (take) {
        rubbing_.assign(touches.begin(), touches.end());
        for (size_t i = 0; i < touches.size(); ++i) e += force_[i] * rub(norm(touches[i].along));
    }
    return e;
}

double Balance::energy_there(const std::vector<Pose> &poses) {
    touch(poses, tried_);
    double e = energy(poses, tried_, false);
    // Friction of the points that pressed at the iterate, at their places now.
    for (size_t i = 0; i < rubbing_.size(); ++i) {
        const Touch &t = rubbing_[i];
        const Vec a = carried(t.at, t.a, poses), b = carried(t.at, t.b, poses);
        Vec along = t.along + (a - b);
        along = along - dot(along, t.normal) * t.normal;
        e += force_[i] * rub(norm(along));
    }
    return e;
}

// How far a point of a body moves as it goes from where it is now to there.
Vec Balance::carried(Vec at, int body, const std::vector<Pose> &poses) const {
    if (body < 0) return {0, 0, 0};
    return poses[size_t(body)] * (inverse(now_[size_t(body)]) * at) - at;
}

}  // namespace handfast
