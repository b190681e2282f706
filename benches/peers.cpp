// How long do general-purpose libraries take for what the engine does? Pinocchio and coal, each in a compiled loop.
//
//     peers kinematics            forward kinematics and the tip's Jacobian of the arm in arm.rs
//     peers distances < ROWS      coal's distance of random pairs of each two kinds of shape
//     peers motion < MOTION       a motion sampled with coal, every pair within a cap
//
// `peers.py` compiles this, writes the inputs and reads the output: a name and nanoseconds a line, the median of many
// rounds. Everything that can be prepared once (shapes, trees of what stands still, transforms) is prepared outside.

#include <coal/broadphase/broadphase_dynamic_AABB_tree.h>
#include <coal/broadphase/broadphase_callbacks.h>
#include <coal/distance.h>
#include <coal/shape/convex.h>
#include <coal/shape/geometric_shapes.h>
#include <pinocchio/multibody.hpp>
#include <pinocchio/algorithm/frames.hpp>
#include <pinocchio/algorithm/jacobian.hpp>
#include <pinocchio/algorithm/kinematics.hpp>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <iostream>
#include <limits>
#include <map>
#include <set>
#include <string>
#include <vector>

using Eigen::Matrix3d, Eigen::Quaterniond, Eigen::Vector3d;

// Median nanoseconds of `repeats` runs, of at least `rounds` rounds and 0.2 s.
template <class Work> double median_ns(int rounds, int repeats, Work work) {
    using clock = std::chrono::steady_clock;
    std::vector<double> times;
    auto begun = clock::now();
    while ((int)times.size() < rounds || std::chrono::duration<double>(clock::now() - begun).count() < 0.2) {
        auto start = clock::now();
        for (int k = 0; k < repeats; ++k) work(k);
        times.push_back(std::chrono::duration<double, std::nano>(clock::now() - start).count() / repeats);
    }
    std::nth_element(times.begin(), times.begin() + times.size() / 2, times.end());
    return times[times.size() / 2];
}

void tell(const std::string &name, double ns) { std::printf("%s\t%.1f\n", name.c_str(), ns); }

// ---- Pinocchio ------------------------------------------------------------------------------------------------------

void kinematics() {
    namespace pin = pinocchio;
    pin::Model model;
    struct Row { Vector3d place; int axis; };
    const Row rows[] = {{{0, 0, 0.4}, 2}, {{0, 0, 0.6}, 0}, {{0.3, 0, 0.5}, 1}, {{0.3, 0, 7}, 1},
                        {{-0.3, 0, 7}, 1}, {{0, 0, 0.5}, 0}, {{0, 0, 0.6}, 2}};
    pin::JointIndex joint = 0;
    for (const Row &row : rows) {
        pin::SE3 place(Matrix3d::Identity(), row.place);
        std::string name = "j" + std::to_string(model.njoints);
        if (row.axis == 0) joint = model.addJoint(joint, pin::JointModelRX(), place, name);
        if (row.axis == 1) joint = model.addJoint(joint, pin::JointModelRY(), place, name);
        if (row.axis == 2) joint = model.addJoint(joint, pin::JointModelRZ(), place, name);
    }
    pin::SE3 joint_from_tip(Matrix3d::Identity(), Vector3d(0, 0, 0.6));
    pin::FrameIndex tip = model.addFrame(pin::Frame("tip", joint, 0, joint_from_tip, pin::OP_FRAME));
    pin::Data data(model);
    // The configurations of arm.rs.
    std::vector<Eigen::VectorXd> q(64, Eigen::VectorXd(7));
    const double lowest = -270.0 * M_PI / 180.0;
    for (int number = 0; number < 64; ++number)
        for (int k = 0; k < 7; ++k) {
            double turns = number * (0.5 + 0.61803398875 * std::sqrt(k + 1.37));
            q[number][k] = lowest * (1.0 - 2.0 * (turns - std::floor(turns)));
        }
    const int repeats = 20000;
    tell("mechanism/forward_kinematics/7_joints", median_ns(25, repeats, [&](int k) {
        pin::forwardKinematics(model, data, q[k % 64]);
        pin::updateFramePlacement(model, data, tip);
    }));
    // The dearer of Pinocchio's two ways is left out.
    pin::Data::Matrix6x jacobian = pin::Data::Matrix6x::Zero(6, 7);
    tell("mechanism/forward_kinematics_and_jacobian/7_joints", median_ns(25, repeats, [&](int k) {
        pin::computeJointJacobians(model, data, q[k % 64]);
        pin::updateFramePlacement(model, data, tip);
        pin::getFrameJacobian(model, data, tip, pin::LOCAL_WORLD_ALIGNED, jacobian);
    }));
}

// ---- coal -----------------------------------------------------------------------------------------------------------

double number() {
    double value;
    if (!(std::cin >> value)) throw std::runtime_error("the input ends early");
    return value;
}

std::string word() {
    std::string text;
    if (!(std::cin >> text)) throw std::runtime_error("the input ends early");
    return text;
}

// x y z qx qy qz qw
coal::Transform3s pose() {
    double v[7];
    for (double &x : v) x = number();
    return {Quaterniond(v[6], v[3], v[4], v[5]).toRotationMatrix(), Vector3d(v[0], v[1], v[2])};
}

// Kind, parameters as in tests/references/distances.py, radius that it is grown by.
std::shared_ptr<coal::CollisionGeometry> shape() {
    std::string kind = word();
    auto points = [](int count) {
        auto all = std::make_shared<std::vector<coal::Vec3s>>();
        for (int k = 0; k < count; ++k) {
            double x = number(), y = number(), z = number();
            all->emplace_back(x, y, z);
        }
        return all;
    };
    auto grown = [](std::shared_ptr<coal::ShapeBase> shape) {
        shape->setSweptSphereRadius(number());
        shape->computeLocalAABB();
        return shape;
    };
    if (kind == "sphere") return grown(std::make_shared<coal::Sphere>(number()));
    if (kind == "capsule" || kind == "cylinder") {
        double half = number(), radius = number();
        if (kind == "capsule") return grown(std::make_shared<coal::Capsule>(radius, 2 * half));
        return grown(std::make_shared<coal::Cylinder>(radius, 2 * half));
    }
    if (kind == "box") {
        double x = number(), y = number(), z = number();
        return grown(std::make_shared<coal::Box>(2 * x, 2 * y, 2 * z));
    }
    if (kind == "hull") {
        auto corners = points((int)number());
        return grown(std::shared_ptr<coal::ShapeBase>(coal::ConvexBase::convexHull(corners, (unsigned)corners->size(), true)));
    }
    if (kind == "triangle") {
        // coal answers no distance for its own triangle.
        auto facets = std::make_shared<std::vector<coal::Triangle>>();
        facets->emplace_back(0, 1, 2);
        facets->emplace_back(0, 2, 1);
        return grown(std::make_shared<coal::Convex<coal::Triangle>>(points(3), 3, facets, 2));
    }
    throw std::runtime_error("a shape of kind " + kind);
}

double distance(const coal::CollisionGeometry *a, const coal::Transform3s &a_place, const coal::CollisionGeometry *b,
                const coal::Transform3s &b_place) {
    static const coal::DistanceRequest request;
    coal::DistanceResult result;
    return coal::distance(a, a_place, b, b_place, request, result);
}

void distances() {
    int kinds = (int)number();
    while (kinds--) {
        std::string a_kind = word(), b_kind = word();
        struct Row { std::shared_ptr<coal::CollisionGeometry> a, b; coal::Transform3s a_place, b_place; };
        std::vector<Row> rows((size_t)number());
        for (Row &row : rows) {
            row.a = shape(), row.b = shape();
            row.a_place = pose(), row.b_place = pose();
        }
        double sum = 0.0;
        double ns = median_ns(9, (int)rows.size(), [&](int k) {
            sum += distance(rows[k].a.get(), rows[k].a_place, rows[k].b.get(), rows[k].b_place);
        });
        if (std::isnan(sum)) throw std::runtime_error("a distance is no number");
        tell("space/separation/" + a_kind + "_" + b_kind, ns);
    }
}

struct Part {
    int body;
    std::shared_ptr<coal::CollisionGeometry> shape;
    coal::Transform3s link_from_shape, place;
    // A ball about the part, in its own frame and where it is now.
    Vector3d centre, centre_now;
    double radius;

    void put(const coal::Transform3s &structure_from_link) {
        place = structure_from_link * link_from_shape;
        centre_now = place.transform(centre);
    }
};

struct Motion {
    double cap;
    std::vector<std::string> classes;
    std::vector<int> class_of;
    // Bodies on the same link never move against each other.
    std::vector<int> link_of;
    std::vector<Part> parts;
    std::vector<std::vector<char>> watched;
    std::vector<std::vector<coal::Transform3s>> poses;
    std::vector<int> moving, still;

    // Least distances, by pair of bodies and by pair of classes, and how often coal was asked.
    std::vector<double> least, least_of_classes;
    size_t asked = 0;

    void read() {
        cap = number();
        size_t bodies = (size_t)number();
        std::map<std::string, int> ids;
        for (size_t body = 0; body < bodies; ++body) {
            std::string name = word();
            if (ids.emplace(name, ids.size()).second) classes.push_back(name);
            class_of.push_back(ids[name]);
            link_of.push_back((int)number());
            int count = (int)number();
            while (count--) {
                Part part{(int)body, shape(), pose(), {}, {}, {}, 0.0};
                part.centre = part.shape->aabb_local.center();
                part.radius = (part.shape->aabb_local.max_ - part.centre).norm();
                parts.push_back(part);
            }
        }
        watched.assign(bodies, std::vector<char>(bodies, 1));
        int exempt = (int)number();
        while (exempt--) {
            int a = (int)number(), b = (int)number();
            watched[a][b] = watched[b][a] = 0;
        }
        poses.resize((size_t)number());
        for (auto &moment : poses) {
            for (size_t body = 0; body < bodies; ++body) moment.push_back(pose());
        }
        for (size_t k = 0; k < parts.size(); ++k) {
            parts[k].put(poses[0][parts[k].body]);
            (link_of[parts[k].body] == 0 ? still : moving).push_back((int)k);
        }
    }

    void forget() {
        const double infinite = std::numeric_limits<double>::infinity();
        least.assign(class_of.size() * class_of.size(), infinite);
        least_of_classes.assign(classes.size() * classes.size(), infinite);
        asked = 0;
    }

    double &class_least(const Part &a, const Part &b) {
        auto [low, high] = std::minmax(class_of[a.body], class_of[b.body]);
        return least_of_classes[low * classes.size() + high];
    }

    // `pruned`: leaves out what balls tell to be no nearer than the least that is known of its pair of classes.
    void measure(Part &a, Part &b, bool pruned) {
        if (!watched[a.body][b.body]) return;
        double apart = (a.centre_now - b.centre_now).norm() - a.radius - b.radius;
        double &known = class_least(a, b);
        if (apart > cap || (pruned && apart >= known)) return;
        ++asked;
        double found = distance(a.shape.get(), a.place, b.shape.get(), b.place);
        known = std::min(known, found);
        double &pair = least[a.body * class_of.size() + b.body];
        pair = std::min(pair, found);
    }

    void place(const std::vector<coal::Transform3s> &moment) {
        for (int k : moving) parts[k].put(moment[parts[k].body]);
    }

    void measure_among_moving(bool first, bool pruned) {
        for (size_t k = 0; k < moving.size(); ++k)
            for (size_t l = 0; l < k; ++l) {
                Part &a = parts[moving[k]], &b = parts[moving[l]];
                // What is carried as one piece is measured once.
                if (first || link_of[a.body] != link_of[b.body]) measure(a, b, pruned);
            }
    }

    void sample_by_loops(bool pruned) {
        forget();
        for (size_t moment = 0; moment < poses.size(); ++moment) {
            place(poses[moment]);
            for (int k : moving)
                for (int l : still) measure(parts[k], parts[l], pruned);
            measure_among_moving(moment == 0, pruned);
        }
    }

    struct Near : coal::CollisionCallBackBase {
        Motion *motion;
        Part *part;
        bool pruned;
        bool collide(coal::CollisionObject *a, coal::CollisionObject *b) override {
            Part *user = static_cast<Part *>(a->getUserData());
            motion->measure(*part, user ? *user : *static_cast<Part *>(b->getUserData()), pruned);
            return false;
        }
    };

    void sample_by_tree(coal::DynamicAABBTreeCollisionManager &tree, bool pruned) {
        forget();
        Near near;
        near.motion = this;
        near.pruned = pruned;
        for (size_t moment = 0; moment < poses.size(); ++moment) {
            place(poses[moment]);
            for (int k : moving) {
                near.part = &parts[k];
                coal::CollisionObject object(parts[k].shape, parts[k].place, false);
                object.computeAABB();
                object.getAABB().expand(cap);
                tree.collide(&object, &near);
            }
            measure_among_moving(moment == 0, pruned);
        }
    }
};

void motion() {
    Motion motion;
    motion.read();
    std::vector<std::unique_ptr<coal::CollisionObject>> objects;
    coal::DynamicAABBTreeCollisionManager tree;
    for (int k : motion.still) {
        objects.push_back(std::make_unique<coal::CollisionObject>(motion.parts[k].shape, motion.parts[k].place));
        objects.back()->setUserData(&motion.parts[k]);
        tree.registerObject(objects.back().get());
    }
    tree.setup();
    for (bool pruned : {false, true}) {
        std::string name = pruned ? "pruned" : "plain";
        tell(name + "/tree", median_ns(5, 1, [&](int) { motion.sample_by_tree(tree, pruned); }));
        size_t by_tree = motion.asked;
        tell(name + "/loops", median_ns(5, 1, [&](int) { motion.sample_by_loops(pruned); }));
        if (!pruned && by_tree > motion.asked) throw std::runtime_error("the tree named more than the loops found");
        std::printf("%s/asked\t%zu\n", name.c_str(), motion.asked);
    }
    for (size_t a = 0; a < motion.classes.size(); ++a)
        for (size_t b = a; b < motion.classes.size(); ++b) {
            double low = std::min(motion.least_of_classes[a * motion.classes.size() + b],
                                  motion.least_of_classes[b * motion.classes.size() + a]);
            if (low < motion.cap) std::printf("least/%s_to_%s\t%.9f\n", motion.classes[a].c_str(), motion.classes[b].c_str(), low);
        }
}

int main(int count, char **words) {
    std::string asked = count == 2 ? words[1] : "";
    if (asked == "kinematics") kinematics();
    else if (asked == "distances") distances();
    else if (asked == "motion") motion();
    else return std::fputs("usage: peers kinematics|distances|motion\n", stderr), 2;
}
