// Insertion in contact, quasi-statically: the command goes on by small steps, and at each step the held body and the
// loose ones it meets take the pose where springs, walls and friction balance (balance.h).
#include "contact.h"

#include <algorithm>

#include "balance.h"

namespace handfast {

namespace {

constexpr double STILL = 5e-6;      // home once this much travel is left [m]
constexpr int ENOUGH = 6000;        // iterations in all, after which steps are no longer divided
constexpr double LEAST_PART = 0.05; // of a step, below which it is taken as it comes

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
