//! In which condition a vehicle is, and what can hurt.

use serde::{Deserialize, Serialize};

vocabulary! {
    /// What of a vehicle has states.
    Feature {
        /// The starter battery.
        Battery = "battery",
        /// The pressure in the fuel line.
        FuelPressure = "fuel-pressure",
        /// Coolant.
        Coolant = "coolant",
        /// Engine oil.
        Oil = "oil",
        /// What the vehicle stands on.
        Support = "support",
        /// What holds the engine.
        Engine = "engine",
        /// Whether the vehicle can roll.
        Rolling = "rolling",
        /// The bonnet.
        Bonnet = "bonnet",
        /// Inlets, outlets and lines of the engine.
        Ports = "ports",
        /// Whether the crankshaft may be turned.
        Crank = "crank",
        /// The brakes.
        Brakes = "brakes",
        /// How hot the engine is.
        Temperature = "temperature",
        /// Airbags and pretensioners.
        Airbags = "airbags",
        /// A drive of more than 60 volts.
        HighVoltage = "high-voltage",
    }
    /// A state of a vehicle: the feature and how it is. The first of a feature is how a vehicle comes.
    VehicleState {
        /// The battery is connected.
        BatteryConnected = "battery connected",
        /// The battery is off, its post covered.
        BatteryIsolated = "battery isolated",
        /// The fuel line is under pressure.
        FuelPressureLive = "fuel-pressure live",
        /// Its pressure is let off.
        FuelPressureRelieved = "fuel-pressure relieved",
        /// The cooling system is filled.
        CoolantFull = "coolant full",
        /// It is drained.
        CoolantDrained = "coolant drained",
        /// The engine has its oil.
        OilFull = "oil full",
        /// The oil is out.
        OilDrained = "oil drained",
        /// It stands on its wheels.
        SupportWheels = "support wheels",
        /// It stands on axle stands.
        SupportStands = "support stands",
        /// It hangs on a lift.
        SupportLift = "support lift",
        /// The engine hangs in its mounts.
        EngineMounted = "engine mounted",
        /// It hangs from above, a mount is out.
        EngineAbove = "engine held-above",
        /// It is held from below, a mount is out.
        EngineBelow = "engine held-below",
        /// The vehicle can be rolled.
        RollingFree = "rolling free",
        /// It must not roll.
        RollingBlocked = "rolling blocked",
        /// The bonnet is latched.
        BonnetLatched = "bonnet latched",
        /// The bonnet is open.
        BonnetOpen = "bonnet open",
        /// Nothing is open.
        PortsClosed = "ports closed",
        /// Something is open and uncovered.
        PortsOpen = "ports open",
        /// What is open is covered.
        PortsCovered = "ports covered",
        /// The crankshaft may be turned.
        CrankFree = "crank free",
        /// Nobody turns it.
        CrankHeld = "crank held",
        /// The brakes work.
        BrakesReady = "brakes ready",
        /// The brakes are open.
        BrakesOpen = "brakes open",
        /// The engine may be hot.
        TemperatureHot = "temperature hot",
        /// It is cold.
        TemperatureCold = "temperature cold",
        /// Airbags and pretensioners are live.
        AirbagsLive = "airbags live",
        /// They are made safe.
        AirbagsSafe = "airbags safe",
        /// Nobody has looked for high voltage.
        HighVoltageUnchecked = "high-voltage unchecked",
        /// There is none.
        HighVoltageNone = "high-voltage none",
        /// Qualified staff isolated it.
        HighVoltageIsolated = "high-voltage isolated",
        /// It is live.
        HighVoltageLive = "high-voltage live",
    }
    /// What can hurt somebody at a step, or spoil something.
    Hazard {
        /// A drive of more than 60 volts.
        HighVoltage = "high-voltage",
        /// Fuel and its vapour.
        Fuel = "fuel",
        /// A vehicle that is raised.
        RaisedVehicle = "raised-vehicle",
        /// An engine held from below while a mount is out.
        EngineHeldBelow = "engine-held-below",
        /// The starter battery.
        Battery = "battery",
        /// Airbags and pretensioners.
        Airbag = "airbag",
        /// Springs and sprung tensioners.
        Spring = "spring",
        /// A lever that was made up, on something sprung.
        SprungLever = "sprung-lever",
        /// Hot coolant.
        HotCoolant = "hot-coolant",
        /// Fasteners that will not move, impact tools, heat.
        Seized = "seized",
        /// Heavy parts.
        Lifting = "lifting",
        /// Glycol.
        Glycol = "glycol",
        /// Used coolant and oil.
        UsedFluid = "used-fluid",
    }
}
