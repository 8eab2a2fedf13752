// Insertion in contact, quasi-statically: the command goes on by small steps, and at each step the held body and the
// loose ones it meets take the pose where springs, walls and friction balance.
//
// Points on the rims of one shape press on the material of another: force stiffness x depth along the nearest wall's
// normal. Friction opposes what a point has moved along the wall since the step before, at most friction x normal force
// (below `slip` it grows linearly). Each step minimises
//     springs + sum stiffness depth^2 / 2 + sum friction N f(movement along the wall),
// by Newton steps with a line search, N being taken from the step's latest iterate. This is the incremental form of
// Coulomb friction with lagged normal forces (Li et al., Incremental Potential Contact, 2020; from memory).
#include "contact.h"

#include <algorithm>

#include "touches.h"

namespace handfast {

namespace {

constexpr int MOST = 40;            // iterations of one step
constexpr double STILL = 5e-6;      // home once this much travel is left [m]
constexpr double SETTLED = 0.02;    // what may be left of forces and moments in balance [N]
constexpr double NEAR = 4e-6;        // a body that touches does not go further in one iteration, past an edge [m]
constexpr int HALVED = 5;           // of a Newton step, before the energy is asked
constexpr double SHALLOW = 2e-6;    // a search does not begin deeper in a wall than this [m]
constexpr int ENOUGH = 6000;        // iterations in all, after which steps are no longer divided
constexpr double LEAST_PART = 0.05; // of a step, below which it is taken as it comes
constexpr double LEVER = 0.03;      // at which a turn counts as a movement [m]

Pose between(const Pose &a, const Pose &b, double share) {
    const Vec w = rotation_vector(b.r * transpose(a.r));
    const double angle = norm(w);
    return {angle > 1e-300 ? rotation((1.0 / angle) * w, share * angle) * a.r : a.r, a.p + share * (b.p - a.p)};
}

class Balance {
  public:
    Balance(const std::vector<Shape> &shapes, const std::vector<Rim> &rims, const Vec *points, const std::vector<Body> &bodies,
            const Going &going)
        : pressing_(shapes, rims, points), going_(going), bodies_(bodies), n_(6 * int(bodies.size())) {
        for (const Body &b : bodies) now_.push_back(b.now), before_.push_back(b.now);
        out.deepest.assign(rims.size(), 0.0);
    }

    // The command has moved: find the balance there. False if it was not found.
    bool settle() {
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
    void descend() {
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

    double limited(const double *step) const {
        double size = 0;
        for (int i = 0; i < n_; ++i) size = std::max(size, std::fabs(step[i]) * (i % 6 < 3 ? 1.0 : LEVER));
        const double most = touches_.empty() ? 2e-3 : NEAR;
        return size > most ? most / size : 1.0;
    }

    // What is left of forces and moments at a pose [N].
    double residual(const std::vector<Pose> &poses, const std::vector<Touch> &touches) {
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

    void spring_pull(const std::vector<Pose> &poses, double *g) const {
        for (int b = 0; b < n_ / 6; ++b) {
            const Body &body = bodies_[size_t(b)];
            const Vec f = springs(b, poses[size_t(b)].p - body.at.p, false);
            const Vec w = springs(b, rotation_vector(poses[size_t(b)].r * transpose(body.at.r)), true);
            const double pull[6] = {f.x, f.y, f.z, w.x, w.y, w.z};
            for (int i = 0; i < 6; ++i) g[6 * b + i] = pull[i];
        }
    }

    // Back to the last balance, with the command where it was then.
    void take_back(const Pose &to) {
        bodies_[0].at = to;
        now_ = before_;
    }

    void keep() {
        touch(now_, touches_);
        for (const Touch &t : touches_) out.deepest[size_t(t.rim)] = std::max(out.deepest[size_t(t.rim)], t.depth);
        before_ = now_;
    }

    // The search begins with the body carried along as it stands, as far as no wall is in the way: from deep inside a
    // wall it could leave by the wrong side.
    void command(const Pose &to) {
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

    double force() const { return dot(stretched(0), going_.way); }
    void feel(double gone) {
        const Vec f = stretched(0), w = rotation_vector(bodies_[0].at.r * transpose(now_[0].r));
        const double along = dot(f, going_.way);
        out.felt.insert(out.felt.end(), {gone, along, norm(f - along * going_.way), norm(springs(0, w, true))});
    }
    // How far ahead of its command the body is along the way: negative where something holds it back.
    double behind() const { return dot(now_[0].p - bodies_[0].at.p, going_.way); }
    const std::vector<Pose> &poses() const { return now_; }
    Gone out;

  private:
    Vec springs(int b, Vec v, bool turn) const {
        const Body &body = bodies_[size_t(b)];
        Vec local = transpose(body.at.r) * v;
        const double across = turn ? body.angular : body.lateral, along = turn ? body.spin : body.axial;
        return body.at.r * Vec{across * local.x, across * local.y, along * local.z};
    }
    Vec stretched(int b) const { return springs(b, bodies_[size_t(b)].at.p - now_[size_t(b)].p, false); }

    void touch(const std::vector<Pose> &poses, std::vector<Touch> &found) const { pressing_.find(poses, before_, found); }

    // Potential of the springs, the walls and friction; take: the normal forces are those of this pose from now on.
    double energy(const std::vector<Pose> &poses, const std::vector<Touch> &touches, bool take) {
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
    double rub(double s) const { return s < going_.slip ? 0.5 * s * s / going_.slip : s - 0.5 * going_.slip; }

    double energy_there(const std::vector<Pose> &poses) {
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
    Vec carried(Vec at, int body, const std::vector<Pose> &poses) const {
        if (body < 0) return {0, 0, 0};
        return poses[size_t(body)] * (inverse(now_[size_t(body)]) * at) - at;
    }

    // exact: with the change of the normal forces, so that the matrix has no symmetry; else with those in force_.
    void newton(double *step, bool exact) {
        double h[6 * MAX_BODIES][6 * MAX_BODIES] = {}, g[6 * MAX_BODIES];
        spring_pull(now_, g);
        for (int b = 0; b < n_ / 6; ++b)
            for (int j = 0; j < 3; ++j) {
                const Vec e = {j == 0 ? 1.0 : 0.0, j == 1 ? 1.0 : 0.0, j == 2 ? 1.0 : 0.0};
                const Vec t = springs(b, e, false), r = springs(b, e, true);
                const double ct[3] = {t.x, t.y, t.z}, cr[3] = {r.x, r.y, r.z};
                for (int i = 0; i < 3; ++i) h[6 * b + i][6 * b + j] += ct[i], h[6 * b + 3 + i][6 * b + 3 + j] += cr[i];
            }
        for (size_t k = 0; k < touches_.size(); ++k)
            add(touches_[k], exact ? going_.friction * going_.stiffness * touches_[k].depth : force_[k], exact, h, g);
        solve(h, g, step);
    }

    void add(const Touch &t, double most, bool exact, double (*h)[6 * MAX_BODIES], double *g) const {
        const double s = norm(t.along), far = std::max(s, going_.slip), w = most / far, k = going_.stiffness;
        const Vec pull = w * t.along - (k * t.depth) * t.normal;  // gradient with respect to the point of a
        // Across the wall its stiffness; along it the friction's, none in the direction in which a point slides; and
        // friction grows as the point goes into the wall.
        Mat stiff;
        const double n[3] = {t.normal.x, t.normal.y, t.normal.z}, l[3] = {t.along.x / far, t.along.y / far, t.along.z / far};
        const double straight = exact && s > going_.slip ? w : 0.0, grows = exact ? going_.friction * k : 0.0;
        for (int i = 0; i < 3; ++i)
            for (int j = 0; j < 3; ++j)
                stiff.m[3 * i + j] = (k - w) * n[i] * n[j] + (i == j ? w : 0.0) - straight * l[i] * l[j] - grows * l[i] * n[j];
        const int ends[2] = {t.a, t.b};
        Vec arm[2];
        for (int e = 0; e < 2; ++e)
            if (ends[e] >= 0) arm[e] = t.at - now_[size_t(ends[e])].p;
        for (int e = 0; e < 2; ++e) {
            if (ends[e] < 0) continue;
            const double sign = e == 0 ? 1.0 : -1.0;
            const Vec turn = cross(arm[e], pull);
            const double own[6] = {pull.x, pull.y, pull.z, turn.x, turn.y, turn.z};
            for (int i = 0; i < 6; ++i) g[6 * ends[e] + i] += sign * own[i];
            for (int f = 0; f < 2; ++f) {
                if (ends[f] < 0) continue;
                const double both = e == f ? 1.0 : -1.0;
                for (int j = 0; j < 6; ++j) {
                    const Vec v = column(j, arm[f]), force = stiff * v, moment = cross(arm[e], force);
                    const double c[6] = {force.x, force.y, force.z, moment.x, moment.y, moment.z};
                    for (int i = 0; i < 6; ++i) h[6 * ends[e] + i][6 * ends[f] + j] += both * c[i];
                }
            }
        }
    }
    static Vec column(int j, Vec arm) {
        const Vec e = {j % 3 == 0 ? 1.0 : 0.0, j % 3 == 1 ? 1.0 : 0.0, j % 3 == 2 ? 1.0 : 0.0};
        return j < 3 ? e : cross(e, arm);
    }

    // Gauss elimination with row exchange: h x = -g.
    void solve(double (*h)[6 * MAX_BODIES], double *g, double *x) const {
        const int n = n_;
        for (int j = 0; j < n; ++j) {
            int best = j;
            for (int i = j + 1; i < n; ++i)
                if (std::fabs(h[i][j]) > std::fabs(h[best][j])) best = i;
            if (best != j) {
                for (int k = j; k < n; ++k) std::swap(h[j][k], h[best][k]);
                std::swap(g[j], g[best]);
            }
            const double pivot = std::fabs(h[j][j]) > 1e-12 ? h[j][j] : 1e-12;
            for (int i = j + 1; i < n; ++i) {
                const double share = h[i][j] / pivot;
                if (share == 0) continue;
                for (int k = j + 1; k < n; ++k) h[i][k] -= share * h[j][k];
                g[i] -= share * g[j];
            }
            h[j][j] = pivot;
        }
        for (int i = n; i-- > 0;) {
            double s = -g[i];
            for (int k = i + 1; k < n; ++k) s -= h[i][k] * x[k];
            x[i] = s / h[i][i];
        }
    }

    std::vector<Pose> moved(const double *step, double share) const {
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

    const Touches pressing_;
    const Going &going_;
    std::vector<Body> bodies_;
    const int n_;
    std::vector<Pose> now_, before_;
    std::vector<Touch> touches_, tried_, rubbing_;
    std::vector<double> force_;
};

// Where the command stands after going so far.
Pose commanded(const Pose &start, const Going &going, double gone) { return {start.r, start.p + gone * going.way}; }

}  // namespace

Gone insert_in_contact(const std::vector<Shape> &shapes, const std::vector<Rim> &rims, const Vec *points,
                       const std::vector<Body> &bodies, const Going &going) {
    Balance balance(shapes, rims, points, bodies, going);
    const Pose start = bodies[0].at;
    const double beyond = going.limit / bodies[0].axial * 1.05 + 1e-4, after = 2.5e-5;
    double last = 0, ordered = 0, travel = 0;  // of the command until the step before and now; of the body
    bool over = false, home = false;
    for (size_t i = 0; !over && !home;) {
        if (i < going.count) {
            ordered = going.stops[i++];
        } else {
            ordered += after;
            if (ordered > going.length + beyond) break;
        }
        for (double part = 1.0, done = 0.0; done < 1.0;) {
            part = std::min(part, 1.0 - done);
            balance.command(commanded(start, going, last + (done + part) * (ordered - last)));
            const bool settled = balance.settle();
            if (!settled && part > LEAST_PART && balance.out.iterations < ENOUGH) {
                balance.take_back(commanded(start, going, last + done * (ordered - last)));
                part *= 0.25;
                continue;
            }
            if (!settled) ++balance.out.unsettled;
            balance.keep();
            done += part, part *= 2.0;
        }
        last = ordered;
        ++balance.out.steps;
        balance.out.peak = std::max(balance.out.peak, balance.force());
        balance.feel(ordered);
        travel = ordered + balance.behind();
        over = balance.out.peak > going.limit;
        home = going.length - travel < STILL;
    }
    Gone out = balance.out;
    out.travel = travel;
    out.over = over;
    out.poses = balance.poses();
    return out;
}

}  // namespace handfast
